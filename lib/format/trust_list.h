// Kind `trust`: who holds which role, which products there are, which numbers a desk may give out,
// and what was withdrawn. Signed by the root's threshold.
#pragma once

#include "format/root.h"

namespace cardseal::format {

enum class Role : std::uint8_t { release, quality, allot, withdraw, engineering };
inline constexpr std::array<std::string_view, 5> role_words{"release", "quality", "allot",
                                                            "withdraw", "engineering"};
constexpr std::string_view word_of(Role role) {
  return role_words[static_cast<std::size_t>(role)];
}

enum class KeyState : std::uint8_t { active, revoked };
inline constexpr std::array<std::string_view, 2> key_state_words{"active", "revoked"};

struct TrustedKey {
  Key key{}; // one key, one role
  Id person;
  Role role = Role::release;
  Maybe<Id> product; // none: every product
  KeyState state = KeyState::active;
};

struct Threshold {
  Role role = Role::release;
  std::uint8_t persons = 1; // can only add to the built-in floor of one
};

struct Product {
  Id id;
  std::uint32_t epoch = 0; // the one epoch in force
  std::uint64_t floor = 1; // lowest sequence still allowed
};

// Numbers of boards that never ship are apart from those of boards that do.
enum class WindowUse : std::uint8_t { engineering, shipment };
inline constexpr std::array<std::string_view, 2> window_use_words{"engineering", "shipment"};

struct Window {
  Key key{}; // of role allot
  Id scheme;
  WindowUse use = WindowUse::shipment; // in a byte that is free here: stations have few
  std::uint64_t first = 0;             // ordinals, both included
  std::uint64_t last = 0;
};

struct TrustList {
  static constexpr std::string_view kind = "trust";
  static constexpr std::size_t limit = 8192;

  Digest owner{};
  std::uint32_t root_version = 1;
  std::uint32_t sequence = 1;
  Maybe<Digest> previous;
  Utc time;
  List<Person, 16> persons;
  List<TrustedKey, 16> keys;
  List<Threshold, 5> thresholds;
  List<Product, 8> products;
  List<Window, 12> windows;
  List<Digest, 32> withdrawn; // manifests
};

template <class V>
void visit(V& v, TrustList& list) {
  digest_line(v, "owner", list.owner);
  uint_line(v, "root-version", list.root_version, 1, 999'999);
  uint_line(v, "sequence", list.sequence, 1, 999'999'999);
  maybe_digest_line(v, "previous", list.previous);
  line(v, "time", [&] { v.utc(list.time); });
  person_lines(v, list.persons);
  lines(
      v, "keys", "key", list.keys,
      [&](TrustedKey& key) {
        v.bytes(key.key);
        v.id(key.person);
        v.word(key.role, role_words);
        v.optional(key.product.present, [&] { v.id(key.product.value); });
        v.word(key.state, key_state_words);
        v.reference(knows_person(list, key.person));
      },
      0, Order::first_field);
  lines(
      v, "thresholds", "threshold", list.thresholds,
      [&](Threshold& threshold) {
        v.word(threshold.role, role_words);
        v.uint(threshold.persons, 1, 8);
      },
      0, Order::first_field);
  lines(
      v, "products", "product", list.products,
      [&](Product& product) {
        v.id(product.id);
        v.uint(product.epoch, 0, 999'999);
        v.uint(product.floor, 1, 999'999'999);
      },
      0, Order::first_field);
  lines(v, "windows", "window", list.windows, [&](Window& window) {
    v.bytes(window.key);
    v.id(window.scheme);
    v.uint(window.first, 0, 999'999'999'999);
    v.uint(window.last, window.first, 999'999'999'999);
    v.word(window.use, window_use_words);
  });
  lines(v, "withdrawn", "manifest", list.withdrawn, [&](Digest& digest) { v.digest(digest); });
}

} // namespace cardseal::format
