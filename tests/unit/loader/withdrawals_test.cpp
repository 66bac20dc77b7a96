// Withdrawals as texts of their own on a card: one signature stops a package, a key or an
// allotment, and nothing brings it back.
#include <algorithm>

#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

format::Withdrawal stop(const char* person = "quin") {
  format::Withdrawal out;
  out.person = id(person);
  out.reason = text<96>("wrong bootloader");
  out.time = {2026, 3, 4, 10, 0, 0};
  return out;
}

format::Withdrawal stop_manifest(const format::Digest& manifest) {
  format::Withdrawal out = stop();
  out.manifest.set(manifest);
  return out;
}

format::Withdrawal stop_key(Who who) {
  format::Withdrawal out = stop();
  out.key.set(key_of(who).public_key());
  return out;
}

format::Withdrawal stop_allotment(const format::Digest& text) {
  format::Withdrawal out = stop();
  out.allotment.set(text);
  return out;
}

format::Digest some_digest(std::uint8_t number) {
  format::Digest out{};
  out.fill(number);
  return out;
}

CardKit kit_with(const format::Withdrawal& withdrawal, Who by = Who::quality) {
  CardKit kit;
  kit.withdrawals = {{withdrawal, by}};
  return kit;
}

int first_reason(CardKit& kit) {
  Bench bench(kit);
  return number(bench.admit());
}

// A station that met the withdrawal on a card which is good for nothing else, then gets a good one.
int reason_after(const format::Withdrawal& withdrawal, Who by = Who::quality) {
  CardKit bringer = kit_with(withdrawal, by);
  bringer.on_card = [](std::map<std::string, Bytes>& files) { files["CARDSEAL/CARD.S01"][5] ^= 1; };
  Bench bench(bringer);
  if (bench.admit().ok()) {
    return -1;
  }
  CardKit good;
  bench.insert(good.build());
  bench.restart();
  return number(bench.admit());
}

format::Digest manifest_of_kit() {
  CardKit kit;
  (void)kit.build();
  return digest_of(kit.manifest_text);
}

format::Digest allotment_of_kit() {
  CardKit kit;
  (void)kit.build();
  return digest_of(kit.allotment_text);
}

void add_withdrawer(CardKit& kit, format::KeyState state = format::KeyState::active) {
  format::TrustedKey key;
  key.key = key_of(Who::withdraw).public_key();
  key.person = id("quin");
  key.role = format::Role::withdraw;
  key.state = state;
  kit.list.keys.add(key);
}

// Packages 100, 101 and so on.
void withdraw_packages(format::TrustList& list, std::size_t count) {
  for (std::size_t i = 0; i < count; ++i) {
    list.withdrawn.add(some_digest(static_cast<std::uint8_t>(100 + i)));
  }
}

void sort(format::TrustList& list) {
  std::sort(list.withdrawn.view().begin(), list.withdrawn.view().end());
}

bool holds(const Bench& bench, const trust::Stop& stop) {
  bool withdrawn = false;
  const Outcome outcome =
      bench.station->memory().is_withdrawn(trust::mark_of(bench.crypto, stop), withdrawn);
  return outcome.ok() && withdrawn;
}

} // namespace

TEST_CASE("a withdrawal of something else does not stop a card") {
  CardKit kit = kit_with(stop_manifest(some_digest(1)));
  CHECK(first_reason(kit) == 0);
}

TEST_CASE("a withdrawn package is refused with the card that brings the withdrawal",
          "[check-362]") {
  CardKit kit = kit_with(stop_manifest(manifest_of_kit()));
  CHECK(first_reason(kit) == 362);
}

TEST_CASE("a withdrawal sticks although the card that brought it was refused") {
  CHECK(reason_after(stop_manifest(some_digest(1))) == 0);
  CHECK(reason_after(stop_manifest(manifest_of_kit())) == 362);
}

TEST_CASE("what a withdrawn key signed counts no more, whatever its role", "[check-355]") {
  CHECK(reason_after(stop_key(Who::release)) == 355);
  CHECK(reason_after(stop_key(Who::quality)) == 355); // by itself: a person may stop their own key
  CHECK(reason_after(stop_key(Who::allot)) == 311);
  CHECK(reason_after(stop_key(Who::stranger)) == 0);
}

TEST_CASE("a withdrawn allotment is refused", "[check-398]") {
  const format::Withdrawal withdrawal = stop_allotment(allotment_of_kit());
  CHECK(reason_after(withdrawal) == 398);
  CardKit kit = kit_with(withdrawal);
  CHECK(first_reason(kit) == 398);
}

TEST_CASE("only an active key of role quality or withdraw stops anything", "[check-331]") {
  for (const Who by : {Who::release, Who::allot, Who::engineering, Who::stranger, Who::root_a}) {
    CardKit kit = kit_with(stop_manifest(some_digest(1)), by);
    INFO(static_cast<int>(by));
    CHECK(first_reason(kit) == 331);
  }
  CardKit withdraw = kit_with(stop_manifest(manifest_of_kit()), Who::withdraw);
  add_withdrawer(withdraw);
  CHECK(first_reason(withdraw) == 362);
  CardKit revoked = kit_with(stop_manifest(manifest_of_kit()), Who::withdraw);
  add_withdrawer(revoked, format::KeyState::revoked);
  CHECK(first_reason(revoked) == 331);
}

TEST_CASE("a withdrawn key withdraws nothing", "[check-331]") {
  CardKit kit = kit_with(stop_key(Who::withdraw));
  kit.withdrawals.push_back({stop_manifest(some_digest(1)), Who::withdraw});
  add_withdrawer(kit);
  CHECK(first_reason(kit) == 331);
}

TEST_CASE("a withdrawal of another owner is refused", "[check-332]") {
  format::Withdrawal withdrawal = stop_manifest(some_digest(1));
  withdrawal.owner = some_digest(2);
  CardKit kit = kit_with(withdrawal);
  CHECK(first_reason(kit) == 332);
}

TEST_CASE("a withdrawal in another person's name is refused", "[check-333]") {
  format::Withdrawal withdrawal = stop_manifest(some_digest(1));
  withdrawal.person = id("rolf");
  CardKit kit = kit_with(withdrawal);
  CHECK(first_reason(kit) == 333);
}

TEST_CASE("a withdrawal without its signature, or with another form, is refused") {
  CardKit none = kit_with(stop_manifest(some_digest(1)));
  none.on_card = [](std::map<std::string, Bytes>& files) { files.erase("CARDSEAL/W01.S01"); };
  CHECK(first_reason(none) == 505);
  CardKit form = kit_with(stop_manifest(some_digest(1)));
  form.on_card = [](std::map<std::string, Bytes>& files) { files["CARDSEAL/W01.S01"].pop_back(); };
  CHECK(first_reason(form) == 321);
}

TEST_CASE("eight withdrawals come with one card, and the ninth is a file like others") {
  CardKit kit;
  for (std::uint8_t i = 0; i < 8; ++i) {
    kit.withdrawals.push_back({stop_manifest(some_digest(i)), Who::quality});
  }
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().withdrawn_count == 8);
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().withdrawn_count == 8); // known ones are not kept again
}

TEST_CASE("a list of 32 withdrawn packages is taken after an allotment was stopped") {
  CardKit stopping = kit_with(stop_allotment(some_digest(1)));
  Bench bench(stopping);
  REQUIRE(bench.admit().ok());
  CardKit full;
  full.list.sequence = 4;
  withdraw_packages(full.list, 32);
  bench.insert(full.build());
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().trust_sequence == 4);
  CHECK(bench.station->memory().head().withdrawn_count == 24);
  CHECK(holds(bench, {trust::StopKind::allotment, some_digest(1)}));
}

TEST_CASE("what a full list withdraws stays withdrawn, with a mark of its own or without",
          "[check-362]") {
  for (const std::size_t others : {0U, 31U}) {
    CardKit kit;
    Bench bench(kit);
    CardKit full;
    full.list.sequence = 4;
    withdraw_packages(full.list, others);
    full.list.withdrawn.add(manifest_of_kit());
    sort(full.list);
    bench.insert(full.build());
    INFO(others);
    CHECK(number(bench.admit()) == 362);
    bench.insert(kit.build());
    bench.restart();
    CHECK(number(bench.admit()) == 362);
  }
}

TEST_CASE("a full table refuses every card, until a newer list holds what is in it",
          "[check-604]") {
  CardKit kit;
  Bench bench(kit);
  for (std::uint8_t card = 0; card < 4; ++card) {
    CardKit eight;
    for (std::uint8_t i = 0; i < 8; ++i) {
      const auto number_of_stop = static_cast<std::uint8_t>(100 + 8 * card + i);
      eight.withdrawals.push_back({stop_manifest(some_digest(number_of_stop)), Who::quality});
    }
    bench.insert(eight.build());
    CHECK(number(bench.admit()) == (card < 3 ? 0 : 604));
  }
  CHECK(bench.station->memory().head().withdrawn_count == 32);
  CardKit older;
  bench.insert(older.build());
  bench.restart();
  CHECK(number(bench.admit()) == 604); // although nothing of it is stopped
  CardKit more = kit_with(stop_manifest(manifest_of_kit()));
  bench.insert(more.build());
  CHECK(number(bench.admit()) == 604);
  CardKit way_out;
  way_out.list.sequence = 4;
  withdraw_packages(way_out.list, 32);
  bench.insert(way_out.build());
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().withdrawn_count == 24);
  for (std::uint8_t i = 0; i < 24; ++i) {
    CHECK(
        holds(bench, {trust::StopKind::package, some_digest(static_cast<std::uint8_t>(100 + i))}));
  }
}

TEST_CASE("a stop of what the list in force withdraws needs no room") {
  CardKit kit;
  kit.on_list = [](format::TrustList& list) { withdraw_packages(list, 32); };
  for (std::uint8_t i = 24; i < 32; ++i) {
    kit.withdrawals.push_back(
        {stop_manifest(some_digest(static_cast<std::uint8_t>(100 + i))), Who::quality});
  }
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().withdrawn_count == 24);
}

TEST_CASE("a stopped key that a newer list revokes makes room when room is needed") {
  CardKit kit;
  kit.withdrawals = {{stop_key(Who::engineering), Who::quality}};
  kit.withdrawals.push_back({stop_key(Who::stranger), Who::quality});
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  for (std::uint8_t card = 0; card < 3; ++card) {
    kit.withdrawals.clear();
    for (std::uint8_t i = 0; i < (card < 2 ? 8 : 7); ++i) {
      const auto number_of_stop = static_cast<std::uint8_t>(100 + 8 * card + i);
      kit.withdrawals.push_back({stop_manifest(some_digest(number_of_stop)), Who::quality});
    }
    bench.insert(kit.build());
    REQUIRE(bench.admit().ok());
  }
  CHECK(bench.station->memory().head().withdrawn_count == 25);
  CardKit newer;
  newer.list.sequence = 4;
  newer.on_list = [](format::TrustList& list) {
    trust::stop_key(list, key_of(Who::engineering).public_key());
  };
  bench.insert(newer.build());
  REQUIRE(bench.admit().ok());
  CHECK(bench.station->memory().head().withdrawn_count == 24);
  CHECK(holds(bench, {trust::StopKind::key, key_of(Who::stranger).public_key()}));
  CHECK_FALSE(holds(bench, {trust::StopKind::key, key_of(Who::engineering).public_key()}));
}

TEST_CASE("a card whose stops stop their own signers is judged the same whenever it comes",
          "[check-331]") {
  CardKit own =
      kit_with(stop_manifest(some_digest(1)), Who::withdraw); // a lost key of role withdraw
  own.withdrawals.push_back({stop_key(Who::withdraw), Who::withdraw});
  add_withdrawer(own);
  CardKit other = kit_with(stop_manifest(some_digest(1)), Who::withdraw);
  other.withdrawals.push_back({stop_key(Who::withdraw), Who::quality});
  add_withdrawer(other);
  for (CardKit* kit : {&own, &other}) {
    Bench bench(*kit);
    CHECK(number(bench.admit()) == 0);
    CHECK(number(bench.admit()) == 0);
    bench.restart();
    CHECK(number(bench.admit()) == 0);
    CHECK(bench.station->memory().head().withdrawn_count == 2);
    CardKit late = kit_with(stop_manifest(some_digest(2)), Who::withdraw);
    add_withdrawer(late);
    bench.insert(late.build());
    CHECK(number(bench.admit()) == 331); // signed by a key that was stopped before
    CHECK(bench.station->memory().head().withdrawn_count == 2);
  }
}

TEST_CASE("a stop of one kind stops nothing of another") {
  const format::Key release = key_of(Who::release).public_key();
  CHECK(reason_after(stop_manifest(release)) == 0); // a key's bytes as a manifest's digest
  CHECK(reason_after(stop_allotment(release)) == 0);
  CHECK(reason_after(stop_manifest(allotment_of_kit())) == 0);
  CHECK(reason_after(stop_allotment(manifest_of_kit())) == 0);
  CardKit list;
  list.on_list = [&](format::TrustList& each) { each.withdrawn.add(release); };
  CHECK(first_reason(list) == 0);
}

TEST_CASE("a cut at every write while a withdrawal is kept leaves it kept or not, never half") {
  CardKit kit = kit_with(stop_manifest(some_digest(1)));
  Bench bench(kit);
  const SlotStore before = bench.store;
  REQUIRE(bench.admit().ok());
  const std::size_t all = bench.store.writes - before.writes;
  std::size_t without = 0;
  for (std::size_t cut = 0; cut <= all; ++cut) {
    bench.store = before;
    bench.store.writes_left = before.writes + cut;
    bench.restart();
    (void)bench.admit();
    bench.store.writes_left = static_cast<std::size_t>(-1);
    loader::StationMemory memory(bench.storage);
    INFO(cut);
    REQUIRE(memory.load().ok());
    without += memory.head().withdrawn_count == 0 ? 1 : 0;
    bench.restart();
    REQUIRE(bench.admit().ok());
    CHECK(bench.station->memory().head().withdrawn_count == 1);
  }
  CHECK(without > 30);
  CHECK(without <= all); // of all + 1 cuts
}
