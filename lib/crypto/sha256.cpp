#include "crypto/sha256.h"

#include <string_view>

#include "base/number.h"
#include "crypto/botan.h"

namespace cardseal::crypto {

namespace {

constexpr std::string_view digest_prefix = "sha256:";

} // namespace

struct Sha256::State {
  botan::Hash hash;
};

Sha256::Sha256() : state_(std::make_unique<State>()) {}
Sha256::Sha256(Sha256&& other) noexcept = default;
Sha256& Sha256::operator=(Sha256&& other) noexcept = default;
Sha256::~Sha256() = default;

void Sha256::update(ByteView bytes) {
  state_->hash.update(bytes);
}

Digest Sha256::finish() {
  Digest out{};
  state_->hash.finish(out);
  return out;
}

Digest sha256(ByteView bytes) {
  Sha256 hash;
  hash.update(bytes);
  return hash.finish();
}

std::string hex(ByteView bytes) {
  std::string out(2 * bytes.size(), '0');
  spell_hex_bytes(bytes, out);
  return out;
}

std::string spell_digest(const Digest& digest) {
  return std::string(digest_prefix) + hex(digest);
}

bool parse_digest(std::string_view text, Digest& out) {
  return text.starts_with(digest_prefix) && parse_hex_bytes(slice(text, digest_prefix.size()), out);
}

} // namespace cardseal::crypto
