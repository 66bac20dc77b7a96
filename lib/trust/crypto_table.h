// The cryptography that admission needs, handed in by whoever runs it: Botan on the desk, whatever
// a station's maker chose on a station. `trust` itself computes none.
#pragma once

#include <cstddef>
#include <cstdint>

namespace cardseal::trust {

inline constexpr std::size_t digest_size = 32;
inline constexpr std::size_t public_key_size = 32;
inline constexpr std::size_t signature_size = 64;

// Every function gets `context` as its first argument. One SHA-256 (FIPS 180-4) runs at a time.
struct CryptoTable {
  void* context = nullptr;
  void (*sha256_start)(void* context) = nullptr;
  void (*sha256_add)(void* context, const std::uint8_t* bytes, std::size_t size) = nullptr;
  void (*sha256_finish)(void* context, std::uint8_t digest[digest_size]) = nullptr;
  // Pure Ed25519 (RFC 8032 section 5.1.7) over `head` followed by `body`. Called only after
  // `signature_form_ok` (trust/ed25519_form.h) said yes; must keep nothing from call to call.
  bool (*ed25519_verify)(void* context, const std::uint8_t key[public_key_size],
                         const std::uint8_t* head, std::size_t head_size, const std::uint8_t* body,
                         std::size_t body_size,
                         const std::uint8_t signature[signature_size]) = nullptr;
};

} // namespace cardseal::trust
