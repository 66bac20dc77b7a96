// The run log as a station writes it: where, in which order, and what a power cut leaves.
#include <map>
#include <set>

#include "format/run_log.h"
#include "log_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

struct Read {
  std::vector<format::LogRecord> records; // in the order of their sectors
  std::size_t spoiled = 0;
  std::size_t broken_chains = 0;
};

// SHA-256 over the chain before and the record, as SPEC-station.md has it, by Botan.
std::uint64_t chain_after(std::uint64_t before, ByteView record) {
  Bytes message(8);
  store_be64(message.data(), before);
  message.insert(message.end(), record.begin(), record.end());
  return load_be64(digest_of(message).data());
}

Read read_log(const LogBench& bench) {
  Read out;
  std::uint64_t chain = 0;
  for (std::uint32_t i = 0; i + 1 < bench.log_sectors(); ++i) {
    const Bytes sector = bench.log_sector(i);
    const format::LogSectorView view(sector.data(), format::log_sector);
    const format::LogSectorKind kind = format::log_sector_kind(view);
    if (kind == format::LogSectorKind::other) {
      ++out.spoiled;
    } else if (kind == format::LogSectorKind::record) {
      format::LogRecord r;
      REQUIRE(format::parse_log_record(view, r).ok());
      out.broken_chains +=
          r.chain == chain_after(chain, format::log_bytes_before_chain(view)) ? 0 : 1;
      chain = r.chain;
      out.records.push_back(r);
    }
  }
  return out;
}

// Works until every unit is used or something fails. Slot 3 needs a second try each time.
bool work(LogBench& bench) {
  while (bench.bench.station->units_left() > 0) {
    const std::uint32_t left = bench.bench.station->units_left();
    const std::uint32_t mask = left >= 6 ? 0x3FU : (1U << left) - 1;
    std::uint64_t first = 0;
    if (!bench.log->begin_cycle(mask, 3300, first).ok()) {
      return false;
    }
    for (std::uint8_t slot = 1; slot <= 6; ++slot) {
      const bool retried = slot == 3;
      if ((mask >> (slot - 1) & 1) != 0 &&
          (!bench.end(slot, retried ? "VERIFY" : "GOOD").ok() ||
           (retried && (!bench.log->begin_again(slot, 3300).ok() || !bench.end(3, "GOOD").ok())))) {
        return false;
      }
    }
  }
  return true;
}

// No ordinal in two cycles, none outside the allotment, none ended that was not begun before.
void check_units(const std::vector<format::LogRecord>& records, std::uint64_t units = 20) {
  std::map<std::uint64_t, std::set<std::pair<std::uint32_t, std::uint32_t>>> cycles;
  std::set<std::pair<std::uint64_t, std::uint8_t>> begun;
  for (const format::LogRecord& r : records) {
    REQUIRE(r.ordinal.present);
    CHECK((r.ordinal.value >= 1234 && r.ordinal.value < 1234 + units));
    cycles[r.ordinal.value].insert({r.session, r.cycle});
    if (r.outcome.view() == format::log_begun) {
      CHECK(begun.insert({r.ordinal.value, r.tries}).second);
    } else {
      CHECK(begun.count({r.ordinal.value, r.tries}) == 1);
    }
  }
  for (const auto& [ordinal, where] : cycles) {
    INFO(ordinal);
    CHECK(where.size() == 1);
  }
}

} // namespace

TEST_CASE("each board has a record before its first byte and one of what became of it") {
  CardKit kit;
  LogBench bench(kit);
  bench.entered.fixture = word("FX-07");
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x15, 3297, first).ok());
  CHECK(first == 1234);
  const Read begun = read_log(bench);
  REQUIRE(begun.records.size() == 3);
  CHECK(begun.records[1].slot == 3);
  CHECK(begun.records[1].ordinal.value == 1235);
  CHECK(begun.records[1].supply_mv == 3297);
  REQUIRE(bench.end(5, "GOOD").ok());
  REQUIRE(bench.end(1, "GOOD").ok());
  REQUIRE(bench.end(3, "NO-CONTACT").ok());
  const Read all = read_log(bench);
  REQUIRE(all.records.size() == 6);
  CHECK(all.broken_chains == 0);
  CHECK(all.records[3].ordinal.value == 1236);
  CHECK(all.records[5].outcome.view() == "NO-CONTACT");
  CHECK(all.records[5].station.view() == "BENCH-1");
  CHECK(all.records[5].fixture.view() == "FX-07");
  CHECK(all.records[5].enrolment == 2);
}

TEST_CASE("boards that come back keep their numbers, in any order, and no other board is begun",
          "[check-614]") {
  CardKit kit;
  kit.allotment.work_class = format::WorkClass::rework;
  kit.allotment.numbers = format::Numbers::kept;
  kit.allotment.spans.add({1234, 1236});
  kit.allotment.spans.add({1250, 1250});
  kit.allotment.count = kit.allotment.units = 4;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  const loader::Station& station = *bench.bench.station;
  unit::UnitBytes bytes;
  REQUIRE(station.unit_bytes(1250, 0, bytes).ok());
  std::uint64_t ordinal = 0;
  CHECK(station.ordinal_on_board(0, bytes.view(), ordinal).ok());
  CHECK(ordinal == 1250);
  CHECK(number(station.unit_bytes(1240, 0, bytes)) == 391);
  const unit::Serials serials = unit::serials_of(station.job().manifest, &station.job().allotment);
  for (const std::uint64_t other : {1233U, 1237U, 1249U, 1251U}) { // beside each span
    CAPTURE(other);
    REQUIRE(unit::bytes_of(serials, station.job().manifest.placements.items[0], other, bytes).ok());
    CHECK(number(station.ordinal_on_board(0, bytes.view(), ordinal)) == 614);
    unit::UnitText text;
    REQUIRE(unit::text_of(serials, other, text).ok());
    CHECK(number(station.ordinal_on_label(text.view(), ordinal)) == 614);
    const std::array<std::uint64_t, 1> one{other};
    CHECK(number(bench.log->begin_boards(1, 3300, one)) == 614);
  }
  unit::UnitText text;
  REQUIRE(unit::text_of(serials, 1235, text).ok());
  CHECK(station.ordinal_on_label(text.view(), ordinal).ok());
  CHECK(ordinal == 1235);
  CHECK(number(station.ordinal_on_label("not a serial", ordinal)) == 106);

  CHECK(number(bench.log->begin_cycle(1, 3300, ordinal)) == 391); // that would be a new number
  const std::array<std::uint64_t, 2> twice{1250, 1250};
  CHECK(number(bench.log->begin_boards(0x3, 3300, twice)) == 614);
  const std::array<std::uint64_t, 3> some{1250, 1237, 1250}; // in slots 2, 3 and 6
  CHECK(bench.log->begin_boards(0x26, 3300, some).position ==
        0x26); // of the two nobody knows which
  const std::array<std::uint64_t, 2> boards{1250, 1235};
  CHECK(number(bench.log->begin_boards(0x7, 3300, boards)) == 391); // a number for each slot
  CHECK(read_log(bench).records.empty());
  CHECK(bench.bench.station->units_left() == 4);
  REQUIRE(bench.log->begin_boards(0x22, 3300, boards).ok());
  REQUIRE(bench.end(2, "GOOD").ok());
  REQUIRE(bench.end(6, "VERIFY").ok());
  REQUIRE(bench.log->begin_again(6, 3300).ok());
  REQUIRE(bench.end(6, "GOOD").ok());
  const Read all = read_log(bench);
  REQUIRE(all.records.size() == 6);
  CHECK(all.records[0].ordinal.value == 1250);
  CHECK(all.records[1].ordinal.value == 1235);
  CHECK(all.records[2].ordinal.value == 1250);
  CHECK(all.records[5].ordinal.value == 1235);
  // A board may run once more, while there are units.
  REQUIRE(bench.restart().ok());
  CHECK(bench.bench.station->units_left() == 2);
  const std::array<std::uint64_t, 2> more{1250, 1234};
  REQUIRE(bench.log->begin_boards(0x3, 3300, more).ok());
  CHECK(number(bench.log->begin_boards(0x1, 3300, std::array<std::uint64_t, 1>{1236})) == 395);
}

TEST_CASE("a card of new numbers takes no board that has one") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  CHECK(number(bench.log->begin_boards(1, 3300, std::array<std::uint64_t, 1>{1234})) == 391);
  CHECK(bench.bench.station->units_left() == 20);
}

TEST_CASE("what was not begun can't end, and what has ended can't end again") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  CHECK_FALSE(bench.end(1, "GOOD").ok());
  REQUIRE(bench.log->begin_cycle(0x03, 3300, first).ok());
  CHECK_FALSE(bench.end(3, "GOOD").ok());
  CHECK_FALSE(bench.end(1, "BEGUN").ok());
  CHECK_FALSE(bench.end(1, "no word").ok());
  CHECK(bench.end(1, "GOOD").ok());
  CHECK_FALSE(bench.end(1, "GOOD").ok());
  CHECK_FALSE(bench.log->begin_again(2, 3300).ok());     // its try has not ended
  CHECK(number(bench.log->begin_again(1, 3300)) == 106); // it is good
  REQUIRE(bench.end(2, "VERIFY").ok());
  for (int i = 0; i < 2; ++i) {
    REQUIRE(bench.log->begin_again(2, 3300).ok());
    REQUIRE(bench.end(2, "VERIFY").ok());
  }
  CHECK_FALSE(bench.log->begin_again(2, 3300).ok()); // three tries
}

TEST_CASE("a board that was good at its second try does not begin a third") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  REQUIRE(bench.end(1, "VERIFY").ok());
  REQUIRE(bench.log->begin_again(1, 3300).ok());
  REQUIRE(bench.end(1, "GOOD").ok());
  CHECK(number(bench.log->begin_again(1, 3300)) == 106);
  CHECK(read_log(bench).records.size() == 4);
}

TEST_CASE("what a record can't carry is refused before a unit is taken") {
  CardKit kit;
  LogBench bench(kit);
  bench.entered.fixture = word("fx 7,8");
  CHECK(number(bench.power_on()) == 106);
  std::uint64_t first = 0;
  CHECK_FALSE(bench.log->begin_cycle(0x01, 3300, first).ok());
  CHECK(bench.bench.station->units_left() == 20);
  CHECK(bench.written.empty());
  bench.entered.fixture = word("FX-07");
  REQUIRE(bench.power_on().ok());
  CHECK(bench.log->begin_cycle(0x01, 3300, first).ok());
  CHECK(first == 1234);
}

TEST_CASE("a good end that only the card did not take is in the log after the next open") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  bench.card_writes_left = bench.card_writes;
  CHECK(number(bench.end(1, "GOOD")) == 612);
  REQUIRE(bench.power_on().ok());
  const Read log = read_log(bench);
  REQUIRE(log.records.size() == 2);
  CHECK(log.records[1].outcome.view() == "GOOD");
  CHECK(log.spoiled == 0);
}

TEST_CASE("nothing outside the signed extent is written, and never its header") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  REQUIRE(work(bench));
  REQUIRE(bench.written.size() == 46); // two a board, two more for each second try
  for (const std::uint32_t lba : bench.written) {
    CHECK(lba >= bench.extent().first);
    CHECK(lba > bench.bench.card.lba_of("CARDSEAL/LOG.CSV"));
    CHECK(lba < bench.extent().first + bench.extent().count);
  }
}

TEST_CASE("a log without room stops the cycle before a unit is taken", "[check-611]") {
  CardKit kit;
  kit.allotment.units = 100;
  kit.allotment.count = 100;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  for (int i = 0; i < 10; ++i) { // 12 of 127 records each
    REQUIRE(bench.log->begin_cycle(0x3F, 3300, first).ok());
    for (std::uint8_t slot = 1; slot <= 6; ++slot) {
      REQUIRE(bench.end(slot, "GOOD").ok());
    }
  }
  CHECK(number(bench.log->begin_cycle(0x3F, 3300, first)) == 611);
  CHECK(bench.bench.station->units_left() == 40);
  CHECK(bench.log->begin_cycle(0x07, 3300, first).ok()); // six of the seven that are left
  CHECK(read_log(bench).spoiled == 0);
}

TEST_CASE("a card that takes no record stops the work until it is put in again", "[check-612]") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  bench.card_writes_left = 2;
  CHECK(number(bench.log->begin_cycle(0x3F, 3300, first)) == 612);
  CHECK(number(bench.log->begin_cycle(0x3F, 3300, first)) == 612);
  CHECK_FALSE(bench.end(1, "GOOD").ok());
  CHECK(bench.bench.station->units_left() == 14); // taken all the same
  REQUIRE(bench.power_on().ok());
  CHECK(bench.log->begin_cycle(0x3F, 3300, first).ok());
  CHECK(first == 1240);
}

TEST_CASE(
    "a slot at which too many boards in a row failed is stopped until the card is put in again",
    "[check-613]") {
  CardKit kit;
  kit.manifest.stop_after = 2;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  const auto cycle = [&](const char* of_slot_2) {
    REQUIRE(bench.log->begin_cycle(0x03, 3300, first).ok());
    REQUIRE(bench.end(1, "GOOD").ok());
    REQUIRE(bench.end(2, of_slot_2).ok());
  };
  cycle("VERIFY");
  CHECK(bench.log->stopped_slots() == 0);
  cycle("GOOD"); // the row begins anew
  cycle("VERIFY");
  cycle("NO-CONTACT");
  CHECK(bench.log->stopped_slots() == 0x02);
  CHECK(number(bench.log->begin_cycle(0x03, 3300, first)) == 613);
  CHECK(bench.bench.station->units_left() == 12);
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  REQUIRE(bench.power_on().ok());
  cycle("GOOD");
}

TEST_CASE("a board that failed and was good at its second try does not count against its slot") {
  CardKit kit;
  kit.manifest.stop_after = 1;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  REQUIRE(bench.end(1, "VERIFY").ok());
  CHECK(bench.log->stopped_slots() == 0x01);
  REQUIRE(bench.log->begin_again(1, 3300).ok());
  REQUIRE(bench.end(1, "GOOD").ok());
  CHECK(bench.log->stopped_slots() == 0);
}

TEST_CASE(
    "a second card is written from its start, and the first goes on behind what it can hold") {
  CardKit kit;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x03, 3300, first).ok());
  const std::uint32_t session = bench.log->session();
  const Card one = bench.bench.card;
  CardKit other;
  other.allotment.card = other.index.card_id = {8, 7, 6, 5, 4, 3, 2, 1};
  other.allotment.serial = 12;
  other.allotment.first = 2000;
  bench.bench.insert(other.build());
  REQUIRE(bench.power_on().ok());
  CHECK(bench.log->session() == session + 1);
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  Read log = read_log(bench);
  REQUIRE(log.records.size() == 1);
  CHECK(log.broken_chains == 0);
  CHECK(log.records[0].ordinal.value == 2000);
  bench.bench.insert(one);
  REQUIRE(bench.power_on().ok());
  REQUIRE(bench.log->begin_cycle(0x03, 3300, first).ok());
  log = read_log(bench);
  REQUIRE(log.records.size() == 4);
  CHECK(log.records[2].session == session + 2);
  CHECK(log.records[2].ordinal.value == 1236);
  check_units(log.records);
  const Bytes after_the_gap = bench.log_sector(12); // two units, six records each
  CHECK(after_the_gap[0] == 'B');
}

TEST_CASE("a station that lost its note numbers its sessions above those before") {
  CardKit kit;
  LogBench bench(kit);
  std::uint32_t last = 0;
  for (int i = 0; i < 6; ++i) {
    if (i == 2 || i == 3) {
      bench.cells[0].assign(format::log_note_size, 0xFF);
      bench.cells[1].assign(format::log_note_size, 0xFF);
    }
    REQUIRE(bench.power_on().ok());
    CHECK(bench.log->session() > last);
    last = bench.log->session();
    std::uint64_t first = 0;
    REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  }
  check_units(read_log(bench).records);
}

TEST_CASE("allotments of two stations on one card never share a record") {
  CardKit kit;
  format::Allotment other;
  kit.on_allotment = [&](format::Allotment& sealed) {
    other = sealed;
    other.station = id("bench-2");
    other.units = 7;
    kit.files["CARDSEAL/A00.TXT"] = spelled(other);
  };
  kit.on_index = [](format::CardIndex& index) { // the other's is listed first
    const auto listed = index.files;
    index.files = {};
    for (const format::FileOnCard& file : listed.view()) {
      if (file.path.view() == "CARDSEAL/A00.TXT") {
        const format::FileOnCard own = index.allotments.items[0];
        index.allotments = {};
        index.allotments.add(file);
        index.allotments.add(own);
      } else {
        index.files.add(file);
      }
    }
  };
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(0x01, 3300, first).ok());
  CHECK(bench.written ==
        std::vector<std::uint32_t>{bench.bench.card.lba_of("CARDSEAL/LOG.CSV") + 1 + 6 * 7});
}

namespace {

// What a station keeps without power, and what its card has.
struct Kept {
  std::array<Bytes, 2> slots, cells;
  Bytes log;

  static Kept of(const LogBench& bench) {
    Kept out{bench.bench.store.slots, bench.cells, {}};
    for (std::uint32_t i = 0; i < bench.log_sectors(); ++i) {
      const Bytes sector = bench.bench.card.sector(bench.log_lba() + i);
      out.log.insert(out.log.end(), sector.begin(), sector.end());
    }
    return out;
  }
  void put(LogBench& bench) const {
    bench.bench.store.slots = slots;
    bench.cells = cells;
    for (std::uint32_t i = 0; i < bench.log_sectors(); ++i) {
      bench.bench.card.set(bench.log_lba() + i, 0, ByteView(log).subspan(i * 512, 512));
    }
  }
};

void check_after_the_cut(LogBench& bench, std::uint32_t units) {
  CHECK(read_log(bench).spoiled <= 1);
  REQUIRE(bench.power_on().ok());
  const bool cut_before_the_last = bench.bench.station->admitted();
  CHECK((!cut_before_the_last || work(bench)));
  const Read log = read_log(bench);
  CHECK(log.spoiled == 0);
  CHECK(log.broken_chains == 0);
  check_units(log.records, units);
  CHECK(number(bench.bench.admit()) == 395); // every unit was started
  std::set<std::uint64_t> good;
  for (const format::LogRecord& r : log.records) {
    if (r.outcome.view() == format::log_good) {
      good.insert(r.ordinal.value);
    }
  }
  CHECK(good.size() >= units - (cut_before_the_last ? 6 : 2)); // a cycle is lost at most
}

// Every write of a run of so many units is cut once: of the memory, of the note, of the card.
void cut_every_write(CardKit& kit, std::uint32_t units) {
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  const Kept fresh = Kept::of(bench);
  const std::size_t state_before = bench.bench.store.writes;
  REQUIRE(work(bench));
  const std::size_t state_writes = bench.bench.store.writes - state_before;
  REQUIRE(state_writes > 5 * units);
  REQUIRE(bench.card_writes == 2 * units + 2 * ((units + 3) / 6)); // slot 3 has a second try
  const std::size_t cuts[] = {state_writes, bench.note_writes, bench.card_writes};
  for (int where = 0; where < 3; ++where) {
    for (std::size_t cut = 0; cut < cuts[where]; ++cut) {
      INFO(where << " cut at " << cut);
      fresh.put(bench);
      REQUIRE(bench.power_on().ok());
      if (where == 0) {
        bench.bench.store.writes_left = bench.bench.store.writes + cut;
      } else {
        std::size_t& left = where == 1 ? bench.note_writes_left : bench.card_writes_left;
        left = (where == 1 ? bench.note_writes : bench.card_writes) + cut;
      }
      REQUIRE_FALSE(work(bench));
      check_after_the_cut(bench, units);
    }
  }
}

} // namespace

TEST_CASE("after a cut at every single write the run goes on and no serial comes twice") {
  CardKit kit;
  cut_every_write(kit, 20);
}

// Two minutes: outside ctest, as test_loader '[long]'.
TEST_CASE(
    "after a cut at every single write of 200 units the run goes on and no serial comes twice",
    "[.][long]") {
  CardKit kit;
  kit.allotment.units = 200;
  kit.allotment.count = 200;
  kit.log_records = 6 * 200;
  cut_every_write(kit, 200);
}

namespace {

void enrol_silent(Bench& bench, const CardKit& kit, bool silent = true) {
  format::StateHead head = Bench::head_of(kit);
  head.no_log = silent;
  bench.enrol(kit, head);
}

// A card of the kit for a station, both with a log or without one; the reason.
int reason_for(bool card_logs, bool station_logs) {
  CardKit kit;
  kit.log_records = card_logs ? 127 : 0;
  Bench bench(kit);
  enrol_silent(bench, kit, !station_logs);
  return static_cast<int>(bench.admit().fault);
}

} // namespace

TEST_CASE("a station that writes no log takes only cards that are meant so") {
  CHECK(reason_for(true, true) == 0);
  CHECK(reason_for(false, false) == 0);
  CHECK(reason_for(false, true) == 508);
  CHECK(reason_for(true, false) == 508);
  CardKit kit; // a card without a log that nobody signed as one, as a plain one is
  kit.on_index = [](format::CardIndex& i) { i.log = {}; };
  Bench bench(kit);
  enrol_silent(bench, kit);
  CHECK(static_cast<int>(bench.admit().fault) == 508);
}

TEST_CASE("without a log units are taken and slots stopped, and neither card nor note is written") {
  CardKit kit;
  kit.log_records = 0;
  kit.manifest.stop_after = 2;
  LogBench bench(kit);
  enrol_silent(bench.bench, kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t first = 0;
  for (int cycle = 0; cycle < 2; ++cycle) {
    REQUIRE(bench.log->begin_cycle(0x3, 3300, first).ok());
    CHECK(bench.end(1, "good").fault == Fault::text_form); // no word of the log
    CHECK(bench.end(1, "GOOD").ok());
    CHECK(bench.end(2, "VERIFY").ok());
    REQUIRE(bench.log->begin_again(2, 3300).ok());
    CHECK(bench.end(2, "VERIFY").ok());
  }
  CHECK(bench.log->stopped_slots() == 0x2);
  CHECK(static_cast<int>(bench.log->begin_cycle(0x2, 3300, first).fault) == 613);
  CHECK(bench.log->begin_again(1, 3300).fault == Fault::text_form); // that board is good
  const std::uint32_t left = bench.bench.station->units_left();
  CHECK(left == kit.allotment.units - 4);
  CHECK(bench.card_writes == 0);
  CHECK(bench.note_writes == 0);
  REQUIRE(bench.power_on().ok()); // it goes on where it stopped
  CHECK(bench.bench.station->units_left() == left);
  REQUIRE(bench.log->begin_cycle(0x1, 3300, first).ok());
  CHECK(first == kit.allotment.first + 4);
}

TEST_CASE("without a log a cut at every write of the memory takes no number twice") {
  CardKit kit;
  kit.log_records = 0;
  kit.allotment.units = 200;
  kit.allotment.count = 200;
  LogBench bench(kit);
  enrol_silent(bench.bench, kit);
  REQUIRE(bench.power_on().ok());
  std::uint64_t next = kit.allotment.first; // none below it may come again
  std::uint64_t first = 0;
  std::size_t cuts = 0;
  for (bool cut = true; cut; ++cuts) {
    bench.bench.store.writes_left = bench.bench.store.writes + cuts;
    cut = !bench.log->begin_cycle(0x1, 3300, first).ok();
    if (!cut) {
      CHECK(first >= next);
      next = first + 1;
    }
    REQUIRE(bench.power_on().ok());
    REQUIRE(bench.log->begin_cycle(0x1, 3300, first).ok());
    CHECK(first >= next); // a cut one may be spent, and none is given again
    next = first + 1;
  }
  CHECK(cuts > 5);
  CHECK(bench.card_writes == 0);
}
