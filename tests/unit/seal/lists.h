// Trust lists made up for tests: keys are one byte repeated, persons one word.
#pragma once

#include <string_view>

#include "seal/trust_edit.h"

namespace cardseal::test {

inline format::Key key_number(std::uint8_t number) {
  format::Key key{};
  key.fill(number);
  return key;
}

inline format::Digest digest_number(std::uint8_t number) {
  format::Digest digest{};
  digest.fill(number);
  return digest;
}

template <std::size_t N = 16>
format::Text<N> words(std::string_view text) {
  format::Text<N> out;
  out.set(text);
  return out;
}

inline format::TrustedKey trusted(std::uint8_t number, std::string_view person, format::Role role,
                                  std::string_view product = {}) {
  format::TrustedKey key;
  key.key = key_number(number);
  key.person = words(person);
  key.role = role;
  if (!product.empty()) {
    key.product.set(words(product));
  }
  return key;
}

// One person each for release (key 1), quality (2) and allotting (3, numbers 0 to 9999).
inline format::TrustList small_list() {
  format::TrustList list;
  list.owner = digest_number(9);
  list.time = {2026, 3, 2, 9, 15, 0};
  for (const std::string_view person : {"desk", "ines", "omar"}) {
    list.persons.add({words(person), words<24>("Somebody")});
  }
  list.keys.add(trusted(1, "ines", format::Role::release));
  list.keys.add(trusted(2, "omar", format::Role::quality));
  list.keys.add(trusted(3, "desk", format::Role::allot));
  list.products.add({words("frost-node"), 0, 5});
  list.windows.add({.key = key_number(3), .scheme = words("fn-serial"), .first = 0, .last = 9999});
  return list;
}

inline seal::OwnerTrust as_read(const format::TrustList& list, std::size_t signatures) {
  seal::OwnerTrust trust;
  trust.list = list;
  trust.file.signatures.resize(signatures);
  trust.digest = digest_number(static_cast<std::uint8_t>(list.sequence));
  return trust;
}

} // namespace cardseal::test
