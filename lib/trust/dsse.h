// The pre-authentication encoding of DSSE version 1 (secure-systems-lab, protocol.md): what an
// Ed25519 signature over a sealed text covers is `head` followed by the text's exact bytes.
#pragma once

#include <array>
#include <string_view>

#include "base/bytes.h"

namespace cardseal::trust {

struct DsseHead {
  std::array<char, 96> bytes{};
  std::size_t size = 0;
  ByteView view() const { return bytes_of({bytes.data(), size}); }
};

// "DSSEv1 <length of type> <type> <length of body> "; lengths in bytes, decimal. `type` has at most
// 64 characters.
DsseHead dsse_head(std::string_view type, std::size_t body_size);

// "application/vnd.cardseal.<kind>.v1" for a sealed text of this kind (at most 16 characters).
DsseHead dsse_head_for_kind(std::string_view kind, std::size_t body_size);

} // namespace cardseal::trust
