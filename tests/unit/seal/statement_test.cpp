// What quality signed about a lot counts for one owner, one signer and one set of counts.
#include "seal/statement.h"
#include "support/card_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::seal;
using test::Who;

namespace {

struct World {
  World() {
    root.owner.fill(9);
    add(Who::quality, "omar", format::Role::quality);
    add(Who::release, "ines", format::Role::release);
    close.owner = root.owner;
    close.work_order = test::text<24>("WO-1");
    (void)close.manifests.add(format::Digest{1});
    close.ordered = 10;
    close.issued = 10;
    close.units.good = 8;
    close.units.scrapped = 2;
    format::ClosedCard card;
    card.station = test::id("quay-1");
    card.units = 10;
    card.good = 8;
    (void)close.cards.add(card);
    close.person = test::id("omar");
    close.reason = test::text<96>("counted");
    close.time = {2026, 4, 1, 12, 0, 0};
  }

  void add(Who who, const char* person, format::Role role) {
    format::TrustedKey key;
    key.key = test::key_of(who).public_key();
    key.person = test::id(person);
    key.role = role;
    REQUIRE(trust.list.keys.add(key));
  }

  // What reading it says, signed by `who`.
  std::string said(Who who = Who::quality, std::string_view kind = format::Close::kind) {
    const Try<io::Bytes> text = spell(close);
    REQUIRE(text);
    const crypto::Signature signature = sign(test::key_of(who), kind, *text);
    const Try<format::Close> read =
        read_statement<format::Close>(*text, signature, root, trust, {test::id("frost-node")}, "x");
    return read ? "good" : read.error().code;
  }

  OwnerRoot root;
  OwnerTrust trust;
  format::Close close;
};

} // namespace

TEST_CASE("a closure counts when quality of this owner signed it and it adds up") {
  World world;
  CHECK(world.said() == "good");
  CHECK(world.said(Who::stranger) == "statement-signature");
  CHECK(world.said(Who::quality, format::Concession::kind) == "statement-signature");
  CHECK(world.said(Who::release) == "key-role");
}

TEST_CASE("a closure of another owner or in another person's name counts for nothing") {
  World world;
  world.close.owner.fill(8);
  CHECK(world.said() == "statement-owner");
  world = World();
  world.close.person = test::id("ines");
  CHECK(world.said() == "statement-person");
}

TEST_CASE("a closure whose counts don't add up counts for nothing") {
  const std::pair<const char*, void (*)(format::Close&)> bends[] = {
      {"a unit too many", [](format::Close& c) { c.units.good += 1; }},
      {"a unit untold", [](format::Close& c) { c.units.scrapped -= 1; }},
      {"issued", [](format::Close& c) { c.issued += 1; }},
      {"a card's units", [](format::Close& c) { c.cards.items[0].units -= 1; }},
      {"a card's good ones", [](format::Close& c) { c.cards.items[0].good -= 1; }},
      {"a label is missing", [](format::Close& c) {
         c.labels.set({10, 8, 1});
       }}};
  for (const auto& [what, bend] : bends) {
    World world;
    bend(world.close);
    INFO(what);
    CHECK(world.said() == "statement-sum");
  }
  World world;
  world.close.labels.set({10, 8, 2});
  CHECK(world.said() == "good");
}

TEST_CASE("a revoked key and one for other products sign no statement") {
  World world;
  world.trust.list.keys.items[0].state = format::KeyState::revoked;
  CHECK(world.said() == "key-role");
  world = World();
  world.trust.list.keys.items[0].product.set(test::id("other"));
  CHECK(world.said() == "key-role");
  world.trust.list.keys.items[0].product.set(test::id("frost-node"));
  CHECK(world.said() == "good");
  // Where nobody says what it is about, a limited key does not count.
  CHECK_FALSE(quality_person(world.trust, test::key_of(Who::quality).public_key(), {}, "x"));
}
