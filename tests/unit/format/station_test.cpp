// The run log's sectors and a station's memory against lib/format/SPEC-station.md, whose examples
// were made without Cardseal.
#include <string>

#include "format/log_note.h"
#include "format/run_log.h"
#include "format/station_state.h"
#include "support/catch.h"
#include "support/markdown.h"

using namespace cardseal;
using namespace cardseal::format;
using namespace cardseal::test;

namespace {

using SectorBytes = std::array<std::uint8_t, log_sector>;

Markdown page() {
  return Markdown("lib/format/SPEC-station.md");
}

SectorBytes sector_of(std::string line) {
  if (!line.empty() && line.back() == '\n') {
    line.pop_back();
  }
  SectorBytes out{};
  out.fill(' ');
  out.back() = '\n';
  std::copy(line.begin(), line.end(), out.begin());
  return out;
}

LogWord word(std::string_view text) {
  LogWord out;
  REQUIRE(out.set(text));
  return out;
}

Id id(std::string_view text) {
  Id out;
  REQUIRE(out.set(text));
  return out;
}

Digest filled(std::uint8_t value) {
  Digest out;
  out.fill(value);
  return out;
}

LogRecord record() {
  LogRecord r;
  r.station = word("BENCH-1");
  r.enrolment = 2;
  r.session = 5;
  r.cycle = 3;
  r.slot = 4;
  r.ordinal.set(1234);
  r.outcome = word("GOOD");
  r.supply_mv = 3297;
  r.duration_ms = 8412;
  r.date = word("2026-03-02");
  r.shift = word("EARLY");
  r.fixture = word("FX-07");
  r.reel = word("R0815");
  r.panel = word("P-12");
  r.chain = 0xE46B8648F0954D70;
  return r;
}

SectorBytes rendered(const LogRecord& r) {
  SectorBytes out{};
  REQUIRE(render_log_record(r, out));
  return out;
}

} // namespace

TEST_CASE("a log record is written and read as its page says") {
  const SectorBytes expected = sector_of(page().example("text", "log-record"));
  CHECK(rendered(record()) == expected);
  LogRecord back;
  REQUIRE(parse_log_record(expected, back).ok());
  CHECK(rendered(back) == expected);
  CHECK(back.ordinal.value == 1234);
  CHECK(back.reel.view() == "R0815");
  CHECK(log_sector_kind(expected) == LogSectorKind::record);
  const std::string line = page().example("text", "log-record");
  CHECK(text_of(log_bytes_before_crc(expected)) == line.substr(0, line.size() - 9));
  CHECK(text_of(log_bytes_before_chain(expected)) == line.substr(0, line.size() - 9 - 17));
}

TEST_CASE("the note of the last record is written and read as its page says") {
  const SectorBytes sector = sector_of(page().example("text", "log-record"));
  LogNote note;
  note.generation = 9;
  note.lba = 7;
  note.card = {1, 2, 3, 4, 5, 6, 7, 8};
  note.sector = sector;
  LogNoteBytes bytes{};
  store_log_note(note, bytes);
  std::vector<std::uint8_t> expected = page().hex_example("log-note-head");
  expected.insert(expected.end(), sector.begin(), sector.end());
  const std::vector<std::uint8_t> crc = page().hex_example("log-note-crc");
  expected.insert(expected.end(), crc.begin(), crc.end());
  CHECK(std::vector<std::uint8_t>(bytes.begin(), bytes.end()) == expected);
  LogNote back;
  REQUIRE(load_log_note(bytes, back));
  CHECK(back.generation == 9);
  CHECK(back.lba == 7);
  CHECK(back.card == note.card);
  CHECK(back.sector == sector);
  std::size_t taken = 0;
  for (std::size_t bit = 0; bit < 8 * bytes.size(); ++bit) {
    LogNoteBytes bad = bytes;
    bad[bit / 8] = static_cast<std::uint8_t>(bad[bit / 8] ^ (1U << (bit % 8)));
    taken += load_log_note(bad, back) ? 1 : 0;
  }
  CHECK(taken == 0);
}

TEST_CASE("a log header is written and read as its page says") {
  const SectorBytes expected = sector_of(page().example("text", "log-header"));
  SectorBytes out{};
  render_log_header({{1, 2, 3, 4, 5, 6, 7, 8}, 31}, out);
  CHECK(out == expected);
  LogHeader back;
  REQUIRE(parse_log_header(expected, back).ok());
  CHECK(back.record_sectors == 31);
  CHECK(back.card == CardId{1, 2, 3, 4, 5, 6, 7, 8});
  CHECK(log_sector_kind(expected) == LogSectorKind::header);
}

TEST_CASE("what a record may leave out stays left out") {
  LogRecord r = record();
  r.ordinal = {};
  r.date = r.shift = r.fixture = r.reel = r.panel = {};
  const SectorBytes bytes = rendered(r);
  LogRecord back = record();
  REQUIRE(parse_log_record(bytes, back).ok());
  CHECK_FALSE(back.ordinal.present);
  CHECK(back.date.size == 0);
  CHECK(rendered(back) == bytes);
}

TEST_CASE("a record at every upper limit still fits its sector") {
  LogRecord r = record();
  for (LogWord* each : {&r.station, &r.outcome, &r.date, &r.shift, &r.fixture, &r.reel, &r.panel}) {
    *each = word("ABCDEFGHIJKLMNOPQRSTUVWX");
  }
  r.enrolment = r.session = r.cycle = r.duration_ms = 0xFFFF'FFFF;
  r.slot = 32;
  r.ordinal.set(max_ordinal);
  r.tries = 255;
  r.supply_mv = 0xFFFF;
  r.chain = ~std::uint64_t{0};
  LogRecord back;
  CHECK(parse_log_record(rendered(r), back).ok());
}

TEST_CASE("every single changed bit of a record or header is noticed") {
  for (const char* name : {"log-record", "log-header"}) {
    const SectorBytes good = sector_of(page().example("text", name));
    std::size_t taken = 0;
    for (std::size_t bit = 0; bit < 8 * log_sector; ++bit) {
      SectorBytes bad = good;
      bad[bit / 8] = static_cast<std::uint8_t>(bad[bit / 8] ^ (1U << (bit % 8)));
      LogRecord r;
      LogHeader h;
      taken += parse_log_record(bad, r).ok() || parse_log_header(bad, h).ok() ? 1 : 0;
    }
    INFO(name);
    CHECK(taken == 0);
  }
}

TEST_CASE("a field outside its form is refused by writer and reader alike") {
  for (const char* bad : {"bench", "-A", ".A", "A B", "A,B", "A\"", "A_B"}) {
    LogRecord r = record();
    SectorBytes out{};
    REQUIRE(r.reel.set(bad));
    INFO(bad);
    CHECK_FALSE(render_log_record(r, out));
  }
  LogRecord r = record();
  SectorBytes out{};
  r.slot = 33;
  CHECK_FALSE(render_log_record(r, out));
  r = record();
  r.station = {};
  CHECK_FALSE(render_log_record(r, out));

  struct Case {
    const char* line;
    Fault fault;
    std::uint32_t position;
  };
  // Refused before the CRC is looked at, each at its field.
  for (const Case& one :
       {Case{"A,1", Fault::text_fields, 2},
        Case{"a,1,1,1,1,,P,1,1,1,,,,,,0000000000000000,00000000", Fault::text_form, 0},
        Case{"A,01,1,1,1,,P,1,1,1,,,,,,0000000000000000,00000000", Fault::text_form, 2},
        Case{"A,1,1,1,33,,P,1,1,1,,,,,,0000000000000000,00000000", Fault::text_range, 8},
        Case{"A,1,1,1,1,,P,1,65536,1,,,,,,0000000000000000,00000000", Fault::text_range, 15},
        Case{"A,1,1,1,1,,P,1,1,1,,,,,,000000000000000a,00000000", Fault::text_form, 24},
        Case{"A,1,1,1,1,,P,1,1,1,,,,,,0000000000000000,00000000", Fault::text_form, 41}}) {
    LogRecord back;
    const Outcome outcome = parse_log_record(sector_of(one.line), back);
    INFO(one.line);
    CHECK(outcome.fault == one.fault);
    CHECK(outcome.position == one.position);
  }
}

TEST_CASE("blank sectors, and what is neither, are told apart") {
  SectorBytes bytes{};
  render_log_blank(bytes);
  CHECK(log_sector_kind(bytes) == LogSectorKind::blank);
  LogRecord r;
  CHECK(parse_log_record(bytes, r).fault == Fault::text_line);
  CHECK(log_sector_kind(SectorBytes{}) == LogSectorKind::other);
  SectorBytes torn = rendered(record()); // the second half of the write never came
  SectorBytes blank = bytes;
  std::copy(blank.begin() + 60, blank.end(), torn.begin() + 60);
  CHECK(log_sector_kind(torn) == LogSectorKind::other);
  CHECK(parse_log_record(torn, r).fault == Fault::text_fields);
}

TEST_CASE("a station's memory is written and read as its page says") {
  StateHead head;
  head.generation = 2;
  head.station = id("bench-1");
  head.model = id("six-slot");
  head.slots = 0x3F;
  head.supply_low_mv = 1800;
  head.supply_high_mv = 5000;
  head.supply_step_mv = 100;
  head.enrolment = 2;
  head.root_size = 500;
  head.trust_size = 900;
  head.trust_root_version = 1;
  head.trust_sequence = 3;
  head.kept_count = 1;
  head.mark_count = 1;
  head.owner = filled(0x11);
  head.root_digest = filled(0x22);
  head.trust_digest = filled(0x33);
  head.log_head = filled(0x44);
  StateHeadBytes head_bytes{};
  store_state_head(head, head_bytes);
  CHECK(std::vector<std::uint8_t>(head_bytes.begin(), head_bytes.end()) ==
        page().hex_example("state-head"));
  StateKeptBytes kept_bytes{};
  store_state_kept({11, 6, 7, filled(0x55)}, kept_bytes);
  CHECK(std::vector<std::uint8_t>(kept_bytes.begin(), kept_bytes.end()) ==
        page().hex_example("state-kept"));
  StateMarkBytes mark_bytes{};
  store_state_mark({id("frost-node"), 1, 7, filled(0x66)}, mark_bytes);
  CHECK(std::vector<std::uint8_t>(mark_bytes.begin(), mark_bytes.end()) ==
        page().hex_example("state-mark"));

  StateHead head_back;
  StateKept kept_back;
  StateMark mark_back;
  REQUIRE(load_state_head(head_bytes, head_back));
  REQUIRE(load_state_kept(kept_bytes, kept_back));
  REQUIRE(load_state_mark(mark_bytes, mark_back));
  CHECK(head_back.trust_sequence == 3);
  CHECK(head_back.log_head == filled(0x44));
  CHECK(kept_back.units_started == 7);
  CHECK(mark_back.product.view() == "frost-node");
}

TEST_CASE("bytes that no writer makes are not loaded") {
  StateHead head;
  head.station = id("bench-1");
  head.root_size = 500;
  StateHeadBytes good{};
  store_state_head(head, good);
  StateHead back;
  REQUIRE(load_state_head(good, back));
  for (const auto& [at, value] :
       std::initializer_list<std::pair<std::size_t, std::uint8_t>>{{0, 0},
                                                                   {1, 'X'},
                                                                   {9, 2},
                                                                   {10, 1},
                                                                   {16, 17},
                                                                   {16, 6},
                                                                   {30, 'x'},
                                                                   {50, 2},
                                                                   {51, 2},
                                                                   {72, 0x21},
                                                                   {84, 5},
                                                                   {85, 9},
                                                                   {86, 33},
                                                                   {87, 1},
                                                                   {255, 1}}) {
    StateHeadBytes bad = good;
    bad[at] = value;
    INFO(at);
    CHECK_FALSE(load_state_head(bad, back));
  }
  StateKeptBytes kept{};
  StateKept kept_back;
  kept[20] = 1;
  CHECK_FALSE(load_state_kept(kept, kept_back));
  StateMarkBytes mark{};
  StateMark mark_back;
  mark[17] = 1;
  CHECK_FALSE(load_state_mark(mark, mark_back));
}
