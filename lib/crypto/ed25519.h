// Pure Ed25519 (RFC 8032 section 5.1): keys of 32 bytes, signatures of 64. What a message is, and
// its prefix, is decided above.
#pragma once

#include <array>
#include <memory>

#include "base/bytes.h"
#include "diag/error.h"

namespace cardseal::crypto {

using PublicKey = std::array<std::uint8_t, 32>;
using Signature = std::array<std::uint8_t, 64>;

inline constexpr std::size_t seed_size = 32;

// A private key. Its seed lives in memory that the library locks and wipes; the public half is
// always derived from it.
class SigningKey {
public:
  static Try<SigningKey> generate();  // from the kernel's generator
  explicit SigningKey(ByteView seed); // seed_size bytes
  SigningKey(SigningKey&& other) noexcept;
  SigningKey& operator=(SigningKey&& other) noexcept;
  ~SigningKey();

  const PublicKey& public_key() const;
  Signature sign(ByteView message) const;
  ByteView seed() const; // valid while the key is

private:
  struct Held;
  std::unique_ptr<Held> held_;
};

// False for a key or signature that fails trust/ed25519_form.h, whatever the library would say.
bool verify(const PublicKey& key, ByteView message, ByteView signature);

} // namespace cardseal::crypto
