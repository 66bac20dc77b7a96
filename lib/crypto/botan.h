// The library behind this module. botan.cpp is the one file that includes it and that knows how its
// versions 2.19 and 3 differ. A library without one of these algorithms is a broken installation;
// then the program stops.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/bytes.h"

namespace cardseal::crypto::botan {

using Bytes = std::vector<std::uint8_t>;
using Block32 = std::array<std::uint8_t, 32>;
using Block64 = std::array<std::uint8_t, 64>;

class Hash {
public:
  Hash();
  Hash(const Hash&) = delete;
  Hash& operator=(const Hash&) = delete;
  ~Hash();
  void update(ByteView bytes);
  void finish(ByteSpan digest); // 32 bytes

private:
  struct Inner;
  std::unique_ptr<Inner> inner_;
};

// Bytes in memory that is locked where the system allows it, and wiped.
class SecureBytes {
public:
  explicit SecureBytes(std::size_t size);
  SecureBytes(SecureBytes&& other) noexcept;
  SecureBytes& operator=(SecureBytes&& other) noexcept;
  ~SecureBytes();
  ByteSpan span();
  ByteView view() const;

private:
  friend std::optional<SecureBytes> decrypt_cbc(const SecureBytes&, ByteView, ByteView);
  struct Inner;
  std::unique_ptr<Inner> inner_;
};

class PrivateKey {
public:
  explicit PrivateKey(const SecureBytes& seed); // 32 bytes
  PrivateKey(PrivateKey&& other) noexcept;
  PrivateKey& operator=(PrivateKey&& other) noexcept;
  ~PrivateKey();
  Block32 public_half() const;
  Block64 sign(ByteView message) const;

private:
  struct Inner;
  std::unique_ptr<Inner> inner_;
};

// `head` followed by `body`. The caller has checked the form of key and signature.
bool verify(ByteView key, ByteView head, ByteView body, ByteView signature);

// PBKDF2 with HMAC-SHA-256 (RFC 8018 section 5.2), 32 bytes.
SecureBytes derive_key(std::string_view passphrase, ByteView salt, std::uint32_t iterations);
// AES-256 in CBC mode with the padding of RFC 8018 section 6.1.1; `start` is 16 bytes.
Bytes encrypt_cbc(const SecureBytes& key, ByteView start, ByteView plain);
std::optional<SecureBytes> decrypt_cbc(const SecureBytes& key, ByteView start, ByteView sealed);

// RFC 7468, 64 columns, line end LF. Decoding is lenient: encode again and compare.
std::string pem_encode(ByteView der, const std::string& label);
std::optional<Bytes> pem_decode(const std::string& text);

} // namespace cardseal::crypto::botan
