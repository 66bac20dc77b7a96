// A station's memory: what it keeps, what it forgets, and what a power cut can do to it.
#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// The same work under another sequence, or another allotment of it.
Card next_card(std::uint64_t sequence, std::uint64_t serial, std::uint8_t change = 0) {
  CardKit kit;
  kit.manifest.sequence = sequence;
  for (SignedSignoff& signoff : kit.signoffs) {
    signoff.signoff.sequence = sequence;
  }
  kit.allotment.serial = serial;
  kit.image[0] = static_cast<std::uint8_t>(kit.image[0] + change);
  return kit.build();
}

Outcome admit_next(Bench& bench, const Card& card) {
  bench.insert(card);
  return bench.admit();
}

} // namespace

TEST_CASE("a station that was never enrolled has no memory", "[check-601]") {
  CardKit kit;
  Bench bench(kit.build());
  CHECK(number(bench.admit()) == 601);
}

TEST_CASE("a completed slot with any byte changed blocks the station", "[check-602]") {
  CardKit kit;
  const Card card = kit.build();
  for (std::size_t at = 0; at < format::state::slot_size; at += at < 300 ? 1 : 97) {
    Bench bench(card);
    bench.enrol(kit);
    bench.store.slots[0][at] ^= 0x10;
    INFO(at);
    CHECK(number(bench.admit()) == 602);
  }
}

TEST_CASE("a damaged slot blocks although the other is whole: it may be the newer", "[check-602]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok()); // keeps the list: both slots are complete now
  for (const std::size_t slot : {0U, 1U}) {
    const SlotStore before = bench.store;
    bench.store.slots[slot][200] ^= 1;
    CHECK(number(bench.admit()) == 602);
    bench.store = before;
  }
  CHECK(bench.admit().ok());
  bench.store.reads_fail = true;
  CHECK(number(bench.admit()) == 602);
}

TEST_CASE("slots of one generation are no memory", "[check-602]") {
  CardKit kit;
  Bench bench(kit);
  bench.store.slots[1] = bench.store.slots[0];
  CHECK(number(bench.admit()) == 602);
}

TEST_CASE("memory that can't be written, or does not keep what was written, stops the cycle",
          "[check-603]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  std::uint64_t first = 0;
  bench.store.drops_writes = true;
  CHECK(number(bench.station->begin_cycle(0x3F, first)) == 603);
  CHECK(bench.station->units_left() == 20);
  bench.store.drops_writes = false;
  CHECK(bench.station->begin_cycle(0x3F, first).ok());
  CHECK(first == 1234);
}

TEST_CASE("a cycle takes ordinals once, across restarts, to the last and no further",
          "[check-395]") {
  CardKit kit;
  Bench bench(kit);
  std::uint64_t expected = 1234;
  for (const std::uint32_t mask : {0x3FU, 0x01U, 0x3FU, 0x3EU}) { // 6 + 1 + 6 + 5
    bench.restart();
    REQUIRE(bench.admit().ok());
    std::uint64_t first = 0;
    REQUIRE(bench.station->begin_cycle(mask, first).ok());
    CHECK(first == expected);
    for (std::uint32_t left = mask; left != 0; left &= left - 1) {
      ++expected;
    }
  }
  std::uint64_t first = 0;
  CHECK(bench.station->units_left() == 2);
  CHECK(number(bench.station->begin_cycle(0x07, first)) == 395);
  CHECK(bench.station->begin_cycle(0x03, first).ok());
  CHECK(first == 1252);
  CHECK(number(bench.station->begin_cycle(0x01, first)) == 395);
  bench.restart();
  CHECK(number(bench.admit()) == 395);
}

TEST_CASE("a slot that the allotment does not enable can't be switched on", "[check-394]") {
  CardKit kit;
  kit.allotment.enabled_slots = 0x0F;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  std::uint64_t first = 0;
  CHECK(number(bench.station->begin_cycle(0x10, first)) == 394);
  CHECK(number(bench.station->begin_cycle(0, first)) == 394);
  CHECK(bench.station->begin_cycle(0x05, first).ok());
}

TEST_CASE("nothing is begun without an admitted card") {
  CardKit kit;
  Bench bench(kit);
  std::uint64_t first = 0;
  CHECK(number(bench.station->begin_cycle(1, first)) == 509);
  CHECK(number(bench.station->start_image()) == 509);
}

TEST_CASE("a cut at every write of a cycle leaves the old memory or the new, never a third") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  const SlotStore before = bench.store;
  std::uint64_t first = 0;
  REQUIRE(bench.station->begin_cycle(0x3F, first).ok());
  const std::size_t all = bench.store.writes - before.writes;
  REQUIRE(all > 30);
  std::size_t old_ones = 0;
  for (std::size_t cut = 0; cut <= all; ++cut) {
    bench.store = before;
    bench.restart();
    REQUIRE(bench.admit().ok());
    bench.store.writes = 0;
    bench.store.writes_left = cut;
    const bool said_done = bench.station->begin_cycle(0x3F, first).ok();
    bench.store.writes_left = static_cast<std::size_t>(-1); // power comes back
    bench.restart();
    REQUIRE(bench.admit().ok());
    const std::uint32_t left = bench.station->units_left();
    INFO("cut before write " << cut << " of " << all);
    CHECK((left == 20 || left == 14));
    CHECK((!said_done || left == 14)); // what was said to be kept is kept
    old_ones += left == 20 ? 1 : 0;
  }
  CHECK(old_ones > 30);
  CHECK(old_ones <= all);
}

TEST_CASE("a cut at every write of a trust list leaves the old list or the new") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  CardKit newer;
  newer.list.sequence = 4;
  const Card card = newer.build();
  bench.insert(card);
  const SlotStore before = bench.store;
  for (std::size_t cut = 0; cut <= 40; ++cut) {
    bench.store = before;
    bench.store.writes = 0;
    bench.store.writes_left = cut;
    bench.restart();
    const bool admitted = bench.admit().ok();
    bench.store.writes_left = static_cast<std::size_t>(-1);
    loader::StationMemory memory(bench.storage);
    INFO("cut before write " << cut);
    REQUIRE(memory.load().ok());
    CHECK((memory.head().trust_sequence == 3 || memory.head().trust_sequence == 4));
    CHECK((!admitted || memory.head().trust_sequence == 4));
  }
}

TEST_CASE("the newest list counts, older ones are ignored, and one sequence has one list",
          "[check-306]") {
  CardKit kit;
  Bench bench(kit);
  CardKit newer;
  newer.list.sequence = 4;
  REQUIRE(admit_next(bench, newer.build()).ok());
  CHECK(bench.station->memory().head().trust_sequence == 4);
  REQUIRE(admit_next(bench, kit.build()).ok()); // an older list beside good work
  CHECK(bench.station->memory().head().trust_sequence == 4);

  CardKit other;
  other.list.sequence = 4;
  other.list.time.second = 1;
  CHECK(number(admit_next(bench, other.build())) == 306);

  CardKit none;
  none.with_list = false;
  CHECK(admit_next(bench, none.build()).ok()); // the kept one does
}

TEST_CASE("a newer list is kept even when the rest of the card is refused") {
  CardKit kit;
  Bench bench(kit);
  CardKit newer;
  newer.list.sequence = 4;
  newer.allotment.station = id("bench-2");
  CHECK(number(admit_next(bench, newer.build())) == 387);
  bench.restart();
  REQUIRE(admit_next(bench, kit.build()).ok());
  CHECK(bench.station->memory().head().trust_sequence == 4);
}

TEST_CASE("a list that is refused is not kept") {
  CardKit kit;
  Bench bench(kit);
  CardKit forged;
  forged.list.sequence = 4;
  forged.list_signers = {Who::stranger};
  CHECK(number(admit_next(bench, forged.build())) == 322);
  CHECK(bench.station->memory().head().trust_sequence == 0);
  CHECK(admit_next(bench, kit.build()).ok()); // one bad card never blocks the next good one
}

TEST_CASE("a withdrawal sticks, although a later list leaves it out", "[check-362]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  const format::Digest manifest = bench.station->job().verdict.manifest_digest;
  CardKit stop;
  stop.list.sequence = 4;
  stop.list.withdrawn.add(manifest);
  CHECK(number(admit_next(bench, stop.build())) == 362);
  CardKit later;
  later.list.sequence = 5;
  CHECK(number(admit_next(bench, later.build())) == 362);
  CHECK(bench.station->memory().head().trust_sequence == 5);
}

TEST_CASE("no list is refused for want of room, and what the one before held is not forgotten") {
  CardKit kit;
  Bench bench(kit);
  for (std::uint32_t round = 0; round < 2; ++round) {
    CardKit full;
    full.list.sequence = 4 + round;
    for (std::uint8_t i = 0; i < 32; ++i) {
      format::Digest digest{};
      digest[0] = i;
      digest[1] = static_cast<std::uint8_t>(round);
      full.list.withdrawn.add(digest);
    }
    CHECK(number(admit_next(bench, full.build())) == 0);
    CHECK(bench.station->memory().head().trust_sequence == 4 + round);
    CHECK(bench.station->memory().head().withdrawn_count == 24); // 8 places stay free for texts
    for (const std::uint8_t first : {std::uint8_t{0}, std::uint8_t{23}}) {
      format::Digest digest{};
      digest[0] = first;
      bool withdrawn = false;
      REQUIRE(bench.station->memory()
                  .is_withdrawn(trust::mark_of(bench.crypto, {trust::StopKind::package, digest}),
                                withdrawn)
                  .ok());
      CHECK(withdrawn);
    }
  }
}

TEST_CASE("floors move at the first cycle, not before", "[check-366]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(admit_next(bench, next_card(9, 12)).ok());
  REQUIRE(admit_next(bench, next_card(7, 11)).ok()); // nothing was begun with 9
  REQUIRE(admit_next(bench, next_card(9, 12)).ok());
  std::uint64_t first = 0;
  REQUIRE(bench.station->begin_cycle(1, first).ok());
  CHECK(number(admit_next(bench, next_card(7, 11))) == 366);
  bench.restart();
  CHECK(number(admit_next(bench, next_card(8, 11))) == 366);
  CHECK(admit_next(bench, next_card(9, 13)).ok());
}

TEST_CASE("another package under a sequence once worked with is refused", "[check-367]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.station->begin_cycle(1, first).ok());
  CHECK(number(admit_next(bench, next_card(7, 12, 1))) == 367);
}

TEST_CASE("a sequence more than a thousand above the last is refused", "[check-368]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.station->begin_cycle(1, first).ok());
  CHECK(number(admit_next(bench, next_card(1008, 12))) == 368);
  CHECK(admit_next(bench, next_card(1007, 12)).ok());
}

TEST_CASE("an allotment's serial stands for one text, and old serials do not come back",
          "[check-389]") {
  CardKit kit;
  Bench bench(kit);
  std::uint64_t first = 0;
  REQUIRE(bench.admit().ok());
  REQUIRE(bench.station->begin_cycle(1, first).ok());
  CardKit other;
  other.allotment.units = 19; // serial 11 again, another text
  CHECK(number(admit_next(bench, other.build())) == 389);
  for (const std::uint64_t serial : {14U, 12U, 13U}) {
    REQUIRE(admit_next(bench, next_card(7, serial)).ok());
    REQUIRE(bench.station->begin_cycle(1, first).ok());
  }
  REQUIRE(admit_next(bench, next_card(7, 12)).ok()); // kept: goes on where it stopped
  CHECK(bench.station->units_left() == 19);
  CHECK(number(admit_next(bench, next_card(7, 10))) == 389); // four are kept, 11 is the lowest
  REQUIRE(admit_next(bench, next_card(7, 15)).ok());
  REQUIRE(bench.station->begin_cycle(1, first).ok());
  CHECK(number(admit_next(bench, next_card(7, 11))) == 389); // pushed out by 15
  loader::KeptAllotments kept;
  REQUIRE(bench.station->memory().read_kept(kept).ok());
  REQUIRE(kept.count == 4);
  for (std::uint16_t i = 0; i < 4; ++i) {
    CHECK(kept.items[i].serial == 12U + i);
  }
}

TEST_CASE("a ninth product finds no room before anything is begun", "[check-604]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  loader::StationMemory memory(bench.storage);
  REQUIRE(memory.load().ok());
  for (std::uint8_t i = 0; i < 8; ++i) {
    const format::Id product = id("thaw-" + std::to_string(i));
    REQUIRE(memory.keep_progress({}, i, {product, 1, 1, {}}).ok());
  }
  bench.restart();
  CHECK(number(bench.admit()) == 604);
}

TEST_CASE("enrolment never overwrites a memory") {
  CardKit kit;
  Bench bench(kit);
  CHECK(number(loader::StationMemory::create(bench.storage, Bench::head_of(kit),
                                             kit.root_text())) == 603);
  CHECK(bench.admit().ok());
}
