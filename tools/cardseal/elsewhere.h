// Signing where the private key is not at hand: the bytes to be signed go out, a signature of 64
// raw bytes comes back.
#pragma once

#include "common.h"

namespace cardseal::tool {

enum class Way : std::uint8_t { here, write_bytes, attach };

// Refuses options that belong to no way, or to two.
Try<Way> way_of(const KeySource& key, const Elsewhere& elsewhere);

struct ToSign {
  std::string_view kind;
  ByteView text;
  const char* what;      // for people: "sign-off"
  const char* made_with; // what must be given again for the same bytes
};

// Writes what the named key's holder signs, and says the digest of it.
Try<void> write_signed_bytes(const Elsewhere& elsewhere, const ToSign& to_sign);

// A claimed time is part of what is signed, and must be said again to attach.
Error time_missing();

// The signature that came back.
Try<crypto::Signature> read_attached(const Elsewhere& elsewhere, const format::Key& key,
                                     const ToSign& to_sign);

} // namespace cardseal::tool
