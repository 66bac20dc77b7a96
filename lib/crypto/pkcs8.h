// The inside of private key files: PKCS #8 EncryptedPrivateKeyInfo (RFC 5958) with PBES2 (RFC 8018
// appendix A.4): PBKDF2, HMAC-SHA-256, AES-256-CBC; within it an Ed25519 key (RFC 8410 section 7).
// Errors carry no file name; the caller adds it.
#pragma once

#include <vector>

#include "crypto/ed25519.h"

namespace cardseal::crypto {

// OWASP Password Storage Cheat Sheet: PBKDF2-HMAC-SHA256 with 600,000 iterations.
inline constexpr std::uint32_t key_iterations = 600'000;
// A file may ask for more than we would; beyond this it only keeps the machine busy.
inline constexpr std::uint32_t max_key_iterations = 5'000'000;

// DER of the encrypted form of any `key_info`.
Try<std::vector<std::uint8_t>> encrypt_key_info(ByteView key_info, std::string_view passphrase,
                                                std::uint32_t iterations = key_iterations);

// Codes: key-form, key-trailing, key-encryption, key-passphrase, key-algorithm, key-public-half.
Try<SigningKey> decrypt_key(ByteView der, std::string_view passphrase);

// DER of PrivateKeyInfo, version 0: the seed without the public half.
class KeyInfo {
public:
  explicit KeyInfo(const SigningKey& key);
  KeyInfo(const KeyInfo&) = delete;
  KeyInfo& operator=(const KeyInfo&) = delete;
  ~KeyInfo(); // wiped
  ByteView view() const { return bytes_; }

private:
  std::array<std::uint8_t, 48> bytes_{};
};

} // namespace cardseal::crypto
