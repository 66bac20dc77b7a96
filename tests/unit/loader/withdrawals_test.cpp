// Withdrawals as texts of their own on a card: one signature stops a package, a key or an
// allotment, and nothing brings it back.
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
  format::Withdrawal withdrawal = stop();
  withdrawal.allotment.set(allotment_of_kit());
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

TEST_CASE("a memory full of withdrawals takes no more, and says so", "[check-604]") {
  CardKit kit;
  kit.on_list = [](format::TrustList& list) {
    for (std::uint8_t i = 0; i < 32; ++i) {
      list.withdrawn.add(some_digest(static_cast<std::uint8_t>(100 + i)));
    }
  };
  kit.withdrawals = {{stop_manifest(some_digest(1)), Who::quality}};
  CHECK(first_reason(kit) == 604);
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
