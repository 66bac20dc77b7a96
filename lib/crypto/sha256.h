// SHA-256 (FIPS 180-4) and the spelling of digests in sealed texts: "sha256:" and 64 lower-case hex
// digits.
#pragma once

#include <array>
#include <memory>
#include <string>

#include "base/bytes.h"

namespace cardseal::crypto {

using Digest = std::array<std::uint8_t, 32>;

Digest sha256(ByteView bytes);

// Bytes in any number of pieces. After finish() it starts anew.
class Sha256 {
public:
  Sha256();
  Sha256(Sha256&& other) noexcept;
  Sha256& operator=(Sha256&& other) noexcept;
  ~Sha256();
  void update(ByteView bytes);
  Digest finish();

private:
  struct State;
  std::unique_ptr<State> state_;
};

std::string hex(ByteView bytes); // lower case
std::string spell_digest(const Digest& digest);
bool parse_digest(std::string_view text, Digest& out); // the one spelling; false otherwise

} // namespace cardseal::crypto
