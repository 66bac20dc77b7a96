// What is said of two trust lists.
#include "crypto/sha256.h"
#include "seal/trust_diff.h"
#include "support/catch.h"
#include "support/sealed_examples.h"
#include "unit/seal/lists.h"

using namespace cardseal;
using namespace cardseal::test;
using format::Role;
using seal::OwnerTrust;

namespace {

OwnerTrust read(const std::string& text) {
  OwnerTrust trust;
  REQUIRE(format::decode(bytes_of(text), trust.list).ok());
  trust.digest = crypto::sha256(bytes_of(text));
  return trust;
}

OwnerTrust with(format::TrustList list) {
  seal::sort_lists(list);
  return read(encoded(list));
}

std::vector<std::string> what_differs(const OwnerTrust& before, const OwnerTrust& after) {
  std::vector<std::string> out;
  for (const seal::TrustChange& change : seal::changes(before, after)) {
    out.emplace_back(seal::change_words[static_cast<std::size_t>(change.what)]);
  }
  return out;
}

using Words = std::vector<std::string>;

// The example of SPEC.md, and the list that follows it.
const OwnerTrust& old_list() {
  static const OwnerTrust list = read(example_of<format::TrustList>());
  return list;
}

format::TrustList next_list() {
  OwnerTrust before = old_list();
  before.file.signatures.resize(1);
  return seal::next_draft(before, before.list.time);
}

// Another character that may stand in its place.
char another(char c) {
  return c == '9' ? '8' : c == 'f' ? 'e' : c == 'z' ? 'y' : static_cast<char>(c + 1);
}

} // namespace

TEST_CASE("every changed character of a trust list changes what is said of it") {
  const std::string text = example_of<format::TrustList>();
  std::size_t taken = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string other = text;
    other[i] = another(other[i]);
    format::TrustList list;
    if (!format::decode(bytes_of(other), list).ok()) {
      continue;
    }
    INFO(other);
    const Words words = what_differs(old_list(), read(other));
    // Two lists of one sequence differ in that already; something else must be told too.
    CHECK(std::any_of(words.begin(), words.end(),
                      [](const std::string& word) { return word != "sequence-shared"; }));
    ++taken;
  }
  CHECK(taken > 300);
}

TEST_CASE("a list and itself differ in nothing") {
  CHECK(what_differs(old_list(), old_list()).empty());
  CHECK(seal::check_follows(old_list(), old_list()).has_value());
}

TEST_CASE("an untouched successor differs in its sequence alone") {
  CHECK(what_differs(old_list(), with(next_list())) == Words{"sequence"});
}

TEST_CASE("each change of a trust list is named, and those that no list may make are refused") {
  struct Case {
    Words words; // before the sequence
    bool allowed;
    void (*change)(format::TrustList&);
  };
  const Case cases[] = {
      {{"owner"}, false, [](auto& list) { list.owner = digest_number(1); }},
      {{"withdrawal-lifted"}, false, [](auto& list) { list.withdrawn.count = 0; }},
      {{"window-cut"}, false, [](auto& list) { list.windows.count = 0; }},
      {{"window-cut", "window-added"}, false, [](auto& list) { list.windows.items[0].last -= 1; }},
      {{"window-cut", "window-added"}, false, [](auto& list) { list.windows.items[0].first = 1; }},
      {{"window-cut", "window-added"},
       false,
       [](auto& list) { list.windows.items[0].scheme = words("other"); }},
      {{"window-cut", "window-added"},
       false,
       [](auto& list) { list.windows.items[0].use = format::WindowUse::engineering; }},
      {{"product-lowered"}, false, [](auto& list) { list.products.items[0].floor = 4; }},
      {{"key-changed"}, true, [](auto& list) { list.keys.items[0].role = Role::release; }},
      {{"key-changed"}, true, [](auto& list) { list.keys.items[0].person = words("k-beck"); }},
      {{"key-changed"}, true, [](auto& list) { list.keys.items[1].product.present = false; }},
      {{"threshold-raised"}, true, [](auto& list) { list.thresholds.items[0].persons = 2; }},
      {{"threshold-stated"}, true, [](auto& list) { list.thresholds.count = 0; }},
      {{"threshold-stated"},
       true,
       [](auto& list) {
         list.thresholds.add({Role::release, 1});
       }},
      {{"other-predecessor"}, true, [](auto& list) { list.previous.set(digest_number(1)); }},
      {{"key-added"},
       true,
       [](auto& list) { list.keys.add(trusted(1, "i-fell", Role::engineering)); }},
      {{"product-added"},
       true,
       [](auto& list) {
         list.products.add({words("a"), 0, 1});
       }},
      {{"window-added"},
       true,
       [](auto& list) {
         list.windows.add(
             {.key = list.keys.items[2].key, .scheme = words("s"), .first = 0, .last = 9});
       }},
      {{"window-added"}, true, [](auto& list) { list.windows.items[0].last += 1; }},
      {{"key-revoked"},
       true,
       [](auto& list) { list.keys.items[0].state = format::KeyState::revoked; }},
      {{"package-withdrawn"}, true, [](auto& list) { list.withdrawn.add(digest_number(1)); }},
      {{"key-removed"}, false, [](auto& list) { list.keys.count = 2; }},
      {{"product-removed"}, false, [](auto& list) { list.products.count = 0; }},
      {{"product-raised"}, true, [](auto& list) { list.products.items[0].floor = 6; }},
      {{"product-raised"},
       true,
       [](auto& list) {
         list.products.items[0] = {words("frost-node"), 1, 1};
       }},
      {{"person"},
       true,
       [](auto& list) {
         list.persons.add({words("z"), words<24>("Zoe")});
       }},
      {{"person"}, true, [](auto& list) { list.persons.items[0].name = words<24>("Ines Moor"); }},
  };
  for (const Case& each : cases) {
    format::TrustList list = next_list();
    each.change(list);
    Words expected = each.words;
    expected.emplace_back("sequence");
    INFO(each.words[0]);
    CHECK(what_differs(old_list(), with(list)) == expected);
    const Try<void> follows = seal::check_follows(old_list(), with(list));
    CHECK(follows.has_value() == each.allowed);
    CHECK((follows || follows.error().code == "trust-follows"));
  }
}

TEST_CASE("a revoked key that counts again, and a threshold that falls, are told as such") {
  format::TrustList list = next_list();
  list.keys.items[0].state = format::KeyState::revoked;
  list.thresholds.items[0].persons = 2;
  const OwnerTrust strict = with(list);
  OwnerTrust draft = strict;
  draft.file.signatures.resize(1);
  format::TrustList lax = seal::next_draft(draft, list.time);
  lax.keys.items[0].state = format::KeyState::active;
  lax.thresholds.items[0].persons = 1;
  CHECK(what_differs(strict, with(lax)) == Words{"key-restored", "threshold-lowered", "sequence"});
  CHECK_FALSE(seal::check_follows(strict, with(lax)).has_value());
}

TEST_CASE("a list's place is what stations make of it") {
  format::TrustList list = next_list();
  CHECK(what_differs(with(list), old_list()) == Words{"sequence-back", "previous"});
  list.sequence += 5;
  CHECK(what_differs(old_list(), with(list)) == Words{"sequence"});
  list.root_version += 1;
  list.sequence = 1; // a newer root counts before any sequence
  CHECK(what_differs(old_list(), with(list)) == Words{"root-version", "sequence"});
  CHECK(what_differs(with(list), old_list()) == Words{"sequence-back", "previous"});
  format::TrustList twin = old_list().list;
  twin.time.second = 1;
  CHECK(what_differs(old_list(), with(twin)) == Words{"sequence-shared", "time"});
}

TEST_CASE("the first list is compared with nothing") {
  format::TrustList list = small_list();
  const OwnerTrust first = with(list);
  const Words words = what_differs(seal::nothing_before(first), first);
  CHECK(words == Words{"key-added", "key-added", "key-added", "product-added", "window-added",
                       "person", "person", "person", "sequence"});
  CHECK(seal::check_follows(seal::nothing_before(first), first).has_value());
}
