// What the commands may do to a trust list, and what they may not.
#include <random>
#include <set>

#include "seal/trust_edit.h"
#include "support/catch.h"
#include "unit/seal/lists.h"

using namespace cardseal;
using namespace cardseal::test;
using format::KeyState;
using format::Role;
using seal::LastKey;

namespace {

std::string code_of(const Try<void>& tried) {
  return tried ? "" : tried.error().code;
}

std::string spelled(const format::TrustList& list) {
  const Try<io::Bytes> text = seal::spell(list);
  REQUIRE(text.has_value());
  return std::string(text_of(ByteView(*text)));
}

// Is there any choice of keys that signs a package of the product off? By trying every choice: each
// role has enough different persons, and nobody signs in both (REASONS.md, 341 to 343).
bool some_choice_signs(const format::TrustList& list, const format::Id& product,
                       std::size_t release, std::size_t quality) {
  for (std::uint32_t choice = 0; choice < (1U << list.keys.count); ++choice) {
    std::set<std::string> by_role[2];
    for (std::uint16_t i = 0; i < list.keys.count; ++i) {
      const format::TrustedKey& key = list.keys.items[i];
      const bool counts =
          key.state == KeyState::active && (!key.product.present || key.product.value == product);
      if (counts && (choice >> i & 1U) != 0) {
        by_role[key.role == Role::release ? 0 : 1].insert(std::string(key.person.view()));
      }
    }
    const bool both = std::any_of(by_role[0].begin(), by_role[0].end(), [&](const auto& person) {
      return by_role[1].count(person) != 0;
    });
    if (!both && by_role[0].size() >= release && by_role[1].size() >= quality) {
      return true;
    }
  }
  return false;
}

struct RandomList {
  format::TrustList list;
  std::size_t release;
  std::size_t quality;
};

RandomList random_list(std::mt19937& random) {
  const auto below = [&](std::uint32_t most) { return static_cast<std::uint8_t>(random() % most); };
  constexpr std::string_view persons[] = {"ada", "ben", "cleo", "dan"};
  constexpr std::string_view products[] = {"", "", "frost-node", "other"};
  RandomList out{{}, 1U + below(2), 1U + below(2)};
  const std::uint8_t keys = 2 + below(5);
  for (std::uint8_t i = 0; i < keys; ++i) {
    const Role role = below(2) == 0 ? Role::release : Role::quality;
    out.list.keys.add(trusted(i, persons[below(4)], role, products[below(4)]));
    out.list.keys.items[i].state = below(6) == 0 ? KeyState::revoked : KeyState::active;
  }
  out.list.products.add({words("frost-node"), 0, 1});
  out.list.thresholds.add({Role::quality, static_cast<std::uint8_t>(out.quality)});
  out.list.thresholds.add({Role::release, static_cast<std::uint8_t>(out.release)});
  return out;
}

} // namespace

TEST_CASE("a signed list is followed by the next one, a draft stays the one it is") {
  format::TrustList list = small_list();
  list.sequence = 7;
  const Utc time{2026, 4, 1, 8, 0, 0};
  const format::TrustList after = seal::next_draft(as_read(list, 1), time);
  CHECK(after.sequence == 8);
  CHECK(after.previous.present);
  CHECK(after.previous.value == digest_number(7));
  CHECK(after.time == time);
  const format::TrustList same = seal::next_draft(as_read(list, 0), time);
  CHECK(same.sequence == 7);
  CHECK_FALSE(same.previous.present);
}

TEST_CASE("revoking changes the key's state and nothing else") {
  format::TrustList list = small_list();
  list.keys.add(trusted(4, "ines", Role::quality));
  list.keys.add(trusted(5, "desk", Role::release));
  std::string text = spelled(list);
  REQUIRE(seal::revoke(list, key_number(2), LastKey::keep).has_value());
  const std::string active = "omar quality - active";
  text.replace(text.find(active), active.size(), "omar quality - revoked");
  CHECK(spelled(list) == text);
}

TEST_CASE("a key that the list lacks, or that is revoked, can't be revoked") {
  format::TrustList list = small_list();
  CHECK(code_of(seal::revoke(list, key_number(8), LastKey::revoke)) == "key-unknown");
  REQUIRE(seal::revoke(list, key_number(3), LastKey::keep).has_value());
  const std::string text = spelled(list);
  CHECK(code_of(seal::revoke(list, key_number(3), LastKey::revoke)) == "key-revoked");
  CHECK(spelled(list) == text);
}

TEST_CASE("the last key that can sign in a role is revoked only when that is said") {
  format::TrustList list = small_list();
  const std::string text = spelled(list);
  const Try<void> refused = seal::revoke(list, key_number(2), LastKey::keep);
  REQUIRE(code_of(refused) == "role-empty");
  CHECK(refused.error().found == "0 persons left in role quality");
  CHECK(refused.error().expected == "at least 1");
  CHECK(spelled(list) == text);
  CHECK(seal::revoke(list, key_number(2), LastKey::revoke).has_value());
  CHECK(list.keys.items[1].state == KeyState::revoked);
}

TEST_CASE("somebody left who would have to sign in both roles is nobody") {
  format::TrustList list = small_list();
  list.keys.add(trusted(4, "ines", Role::quality));
  const Try<void> refused = seal::revoke(list, key_number(2), LastKey::keep);
  REQUIRE(code_of(refused) == "role-empty");
  CHECK(refused.error().expected == "2 different persons for release and quality");
}

TEST_CASE("engineering's last key counts for engineering alone, an allotting one for nobody") {
  format::TrustList list = small_list();
  list.keys.add(trusted(4, "ines", Role::engineering));
  CHECK(code_of(seal::revoke(list, key_number(4), LastKey::keep)) == "role-empty");
  CHECK(seal::revoke(list, key_number(3), LastKey::keep).has_value());
  CHECK(list.windows.count == 1);
}

TEST_CASE("whether a key is the last is what trying every choice of sign-offs says") {
  std::mt19937 random(20260302); // always the same lists
  std::size_t refused = 0;
  std::size_t done = 0;
  for (int round = 0; round < 4000; ++round) {
    RandomList made = random_list(random);
    const format::Id product = words("frost-node");
    const format::TrustedKey key = made.list.keys.items[random() % made.list.keys.count];
    const bool before = some_choice_signs(made.list, product, made.release, made.quality);
    const std::string code = code_of(seal::revoke(made.list, key.key, LastKey::keep));
    if (key.state == KeyState::revoked) {
      CHECK(code == "key-revoked");
      continue;
    }
    format::TrustList without = made.list;
    for (format::TrustedKey& each : without.keys.view()) {
      each.state = each.key == key.key ? KeyState::revoked : each.state;
    }
    const bool after = some_choice_signs(without, product, made.release, made.quality);
    CHECK(code == (before && !after ? "role-empty" : ""));
    (code.empty() ? done : refused) += 1;
  }
  CHECK(refused > 200);
  CHECK(done > 300);
}

TEST_CASE("a withdrawal is added once, and no more than a station holds") {
  format::TrustList list = small_list();
  for (std::uint8_t i = 0; i < list.withdrawn.capacity(); ++i) {
    REQUIRE(seal::withdraw(list, digest_number(i)).has_value());
  }
  CHECK(code_of(seal::withdraw(list, digest_number(0))) == "withdrawn-already");
  CHECK(code_of(seal::withdraw(list, digest_number(77))) == "trust-full");
  CHECK(list.withdrawn.count == 32); // SPEC.md, kind trust
  CHECK(seal::spell(list).has_value());
}

TEST_CASE("a window is for an active allotting key and shares no number of its scheme") {
  const auto window = [](std::uint8_t key, std::string_view scheme, std::uint64_t first,
                         std::uint64_t last) {
    return format::Window{
        .key = key_number(key), .scheme = words(scheme), .first = first, .last = last};
  };
  format::TrustList list = small_list();
  CHECK(code_of(seal::add_window(list, window(1, "fn-serial", 20'000, 29'999))) == "window-key");
  CHECK(code_of(seal::add_window(list, window(8, "fn-serial", 20'000, 29'999))) == "window-key");
  CHECK(code_of(seal::add_window(list, window(3, "fn-serial", 20'000, 19'999))) == "window-form");
  CHECK(code_of(seal::add_window(list, window(3, "fn-serial", 9'999, 12'000))) == "window-shared");
  CHECK(code_of(seal::add_window(list, window(3, "fn-serial", 0, 20'000))) == "window-shared");
  CHECK(seal::add_window(list, window(3, "fn-serial", 10'000, 10'000)).has_value());
  CHECK(seal::add_window(list, window(3, "other", 0, 9'999)).has_value());
  REQUIRE(seal::revoke(list, key_number(3), LastKey::keep).has_value());
  CHECK(code_of(seal::add_window(list, window(3, "fn-serial", 20'000, 29'999))) == "window-key");
  CHECK(list.windows.count == 3);
}
