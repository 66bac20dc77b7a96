// Kind `facts`: what people decide by, sealed with the package. Stations never read it; the desk
// takes what a station's card must look like from here.
#pragma once

#include "format/manifest.h"

namespace cardseal::format {

enum class FirmwareFormat : std::uint8_t { intel_hex, raw, s_record, elf };
inline constexpr std::array<std::string_view, 4> firmware_format_words{"intel-hex", "raw",
                                                                       "s-record", "elf"};

struct Checksum {
  Text<32> name; // as the CRC catalogue spells it, byte-sum-16, byte-sum-32, or device_sum_name
  Id over;       // `image`, from its first to its last byte; or a region, all of it
  std::uint32_t value = 0;
  std::uint32_t fill = 0xFF; // word that stands for absent ones, low byte first
};

// The sum of a device's programming specification: a region and the masked configuration words.
inline constexpr std::string_view device_sum_name = "device-sum-16, unprotected";

// Where a unit's configuration words come from.
enum class Configuration : std::uint8_t {
  none,         // the device has none
  as_delivered, // nobody writes them
  in_firmware,
};
inline constexpr std::array<std::string_view, 3> configuration_words{"none", "as-delivered",
                                                                     "in-firmware"};

struct ConfigFact { // one configuration field, by name
  Id field;
  std::uint32_t bits = 0; // as they stand in their word
  Text<64> meaning;
};

enum class Partition : std::uint8_t { none, type_0b, type_0c };
inline constexpr std::array<std::string_view, 3> partition_words{"none", "type-0b", "type-0c"};

enum class StationReads : std::uint8_t { signed_package, plain_file, signed_no_log };
inline constexpr std::array<std::string_view, 3> station_reads_words{"signed-package", "plain-file",
                                                                     "signed-no-log"};

struct StationFacts { // what the release was checked against, and the card this model reads
  Id model;
  StationReads reads = StationReads::signed_package;
  std::uint32_t slots = 0;
  std::uint32_t supply_low_mv = 0;
  std::uint32_t supply_high_mv = 0;
  std::uint32_t supply_step_mv = 1;
  Partition partition = Partition::type_0c;
  std::uint8_t cluster_sectors = 8;
  std::uint32_t max_sectors = 0;
  Text<11> volume_label;
};

enum class PlainForm : std::uint8_t { intel_hex, raw };
inline constexpr std::array<std::string_view, 2> plain_form_words{"intel-hex", "raw"};

enum class LineEnd : std::uint8_t { lf, crlf };
inline constexpr std::array<std::string_view, 2> line_end_words{"lf", "crlf"};

struct PlainFileFacts { // of a model that reads only plain files
  Id model;
  CardPath path;
  PlainForm form = PlainForm::intel_hex;
  std::uint8_t record_length = 16; // bytes of data in a record
  LineEnd line_end = LineEnd::crlf;
  Text<32> shown_checksum; // what its display shows: a name of Checksum, `crc` parameters, or none
  std::uint32_t shown_value = 0;
};

enum class Level : std::uint8_t { note, warn, waived, refuse }; // waived: by a deviation
inline constexpr std::array<std::string_view, 4> level_words{"note", "warn", "waived", "refuse"};

struct FindingFacts {
  std::uint8_t index = 1;
  Level level = Level::note;
  Text<32> rule;
  Text<192> text;
};

// Sets the findings of one rule aside, within its limits; the sign-offs over the package are the
// signatures under it.
struct Deviation {
  Text<24> number;
  Text<32> rule;
  std::uint32_t boards = 1; // that may be made under it, of this package, on all cards together
  Utc expires;              // no card is made after it
  Text<96> reason;
};

struct PanelPlace {
  std::uint8_t slot = 1;
  Text<8> position; // on the panel of boards
};

struct SupplyFacts { // millivolts
  std::uint32_t device_low = 0;
  std::uint32_t device_high = 0;
  std::uint32_t device_absolute_max = 0;
  std::uint32_t board_low = 0;
  std::uint32_t board_high = 0;
};

// The supply calculation: what it started from, how its values follow, and how far the worst is
// from each limit.
enum class SupplyPhase : std::uint8_t { all, program, erase, verify, verify_low, verify_high };
inline constexpr std::array<std::string_view, 6> supply_phase_words{
    "all", "program", "erase", "verify", "verify-low", "verify-high"};

enum class MarginUnit : std::uint8_t { microvolts, microamps, microseconds };
inline constexpr std::array<std::string_view, 3> margin_unit_words{"uv", "ua", "us"};

enum class Standing : std::uint8_t { holds, misses, never, harms };
inline constexpr std::array<std::string_view, 4> standing_words{"holds", "misses", "never",
                                                                "harms"};

struct SupplyInput { // a given value; `model` is `all` where it is none of a station's
  Text<24> id;       // its unit last
  SupplyPhase phase = SupplyPhase::all;
  Id model;
  std::uint32_t value = 0;
};

struct SupplyFormula { // how a value between follows from given ones
  Text<24> id;
  Id model; // `all` where it is the same at each station
  Text<160> formula;
};

struct MarginValue {
  std::uint64_t value = 0;    // at the worst
  std::uint64_t distance = 0; // from the limit; on which side of it, `standing` says
};

struct MarginFacts { // of the station at which it is least
  Text<24> id;
  SupplyPhase phase = SupplyPhase::all;
  Id model;
  Standing standing = Standing::holds;
  MarginUnit unit = MarginUnit::microvolts;
  std::uint64_t limit = 0;
  Text<96> formula;
  Maybe<MarginValue> value; // none: it never comes to an end
};

struct WorkStep { // what a station does with a board, in order
  std::uint8_t index = 1;
  Text<24> name;
  Text<120> reason;
};

struct LotEstimate { // what the times of a lot are reckoned for
  std::uint32_t good_boards = 1;
  std::uint32_t yield_ppm = 1'000'000; // good ones of a million
  std::uint32_t slowest_ppm = 0;       // what the slowest board takes more
  std::uint32_t set_up_s = 0;
};

struct CycleInput { // a given value of the times; `model` as in SupplyInput
  Text<24> id;      // its unit last
  Id model;
  std::uint32_t value = 0;
};

struct CycleFormula { // how a time follows; `model` as in SupplyFormula
  Text<24> id;
  Id model;
  Text<96> formula;
};

struct CycleFacts { // how long it takes at one model, microseconds
  Id model;
  std::uint8_t slots = 1;
  std::uint64_t board_us = 0; // the slowest
  std::uint64_t cycle_us = 0; // with every permitted slot filled
  std::uint64_t boards = 0;   // to be started for the good ones of the estimate
  std::uint64_t lot_us = 0;
};

inline constexpr std::uint64_t max_margin = 999'999'999'999'999;

struct Facts {
  static constexpr std::string_view kind = "facts";
  static constexpr std::size_t limit = max_facts;

  Digest owner{};
  Id product;
  Name release;
  Text<64> firmware_name;
  std::uint32_t firmware_size = 0; // bytes of the file as approved
  Digest firmware_digest{};
  FirmwareFormat firmware_format = FirmwareFormat::intel_hex;
  List<Checksum, 16> checksums;
  Configuration configuration = Configuration::none;
  List<ConfigFact, 64> config_fields;
  SupplyFacts supply;
  List<SupplyInput, 136> supply_inputs;
  List<SupplyFormula, 64> supply_formulas;
  List<MarginFacts, 52> margins;
  List<PanelPlace, 32> panel; // none: boards are loose
  List<WorkStep, 16> work_steps;
  LotEstimate lot;
  List<CycleInput, 72> cycle_inputs;
  List<CycleFormula, 32> cycle_formulas;
  List<CycleFacts, 8> cycles;
  List<StationFacts, 8> stations;
  List<PlainFileFacts, 8> plain_files;
  List<Deviation, 8> deviations;
  std::uint32_t findings_counted = 0; // all; the first hundred are kept
  List<FindingFacts, 100> findings;
  Name tool;
};

template <class V>
void visit_station_facts(V& v, StationFacts& s) {
  v.id(s.model);
  v.word(s.reads, station_reads_words);
  v.hex(s.slots, 8);
  v.uint(s.supply_low_mv, 0, 60'000);
  v.uint(s.supply_high_mv, s.supply_low_mv, 60'000);
  v.uint(s.supply_step_mv, 1, 10'000);
  v.word(s.partition, partition_words);
  v.uint(s.cluster_sectors, 1, 64);
  v.uint(s.max_sectors, 1, 4'194'304);
  v.quoted(s.volume_label, Charset::display);
}

template <class V>
void visit_plain_file_facts(V& v, PlainFileFacts& p) {
  v.id(p.model);
  v.quoted(p.path, Charset::display);
  v.word(p.form, plain_form_words);
  v.uint(p.record_length, 1, 255);
  v.word(p.line_end, line_end_words);
  v.quoted(p.shown_checksum, Charset::display);
  v.hex(p.shown_value, 8);
}

template <class V>
void visit_supply_facts(V& v, SupplyFacts& s) {
  line(v, "device-supply", [&] {
    v.uint(s.device_low, 0, 60'000);
    v.uint(s.device_high, s.device_low, 60'000);
    v.uint(s.device_absolute_max, s.device_high, 60'000);
  });
  line(v, "board-supply", [&] {
    v.uint(s.board_low, 0, 60'000);
    v.uint(s.board_high, s.board_low, 60'000);
  });
}

template <class V>
void visit_margin(V& v, MarginFacts& m) {
  v.id(m.id);
  v.word(m.phase, supply_phase_words);
  v.id(m.model);
  v.word(m.standing, standing_words);
  v.word(m.unit, margin_unit_words);
  v.uint(m.limit, 0, max_margin);
  v.quoted(m.formula, Charset::display);
  v.optional(m.value.present, [&] {
    v.uint(m.value.value.value, 0, max_margin);
    v.uint(m.value.value.distance, 0, max_margin);
  });
}

template <class V>
void visit_supply_calculation(V& v, Facts& f) {
  lines(v, "supply-inputs", "supply-input", f.supply_inputs, [&](SupplyInput& s) {
    v.id(s.id);
    v.word(s.phase, supply_phase_words);
    v.id(s.model);
    v.uint(s.value, 0, 0xFFFF'FFFF);
  });
  lines(v, "supply-formulas", "supply-formula", f.supply_formulas, [&](SupplyFormula& s) {
    v.id(s.id);
    v.id(s.model);
    v.quoted(s.formula, Charset::display);
  });
  lines(v, "margins", "margin", f.margins, [&](MarginFacts& m) { visit_margin(v, m); });
}

template <class V>
void visit_cycles(V& v, Facts& f) {
  line(v, "lot-estimate", [&] {
    v.uint(f.lot.good_boards, 1, 999'999);
    v.uint(f.lot.yield_ppm, 100'000, 1'000'000);
    v.uint(f.lot.slowest_ppm, 0, 1'000'000);
    v.uint(f.lot.set_up_s, 0, 3'600);
  });
  lines(v, "cycle-inputs", "cycle-input", f.cycle_inputs, [&](CycleInput& c) {
    v.id(c.id);
    v.id(c.model);
    v.uint(c.value, 0, 0xFFFF'FFFF);
  });
  lines(v, "cycle-formulas", "cycle-formula", f.cycle_formulas, [&](CycleFormula& c) {
    v.id(c.id);
    v.id(c.model);
    v.quoted(c.formula, Charset::display);
  });
  lines(
      v, "cycles", "cycle", f.cycles,
      [&](CycleFacts& c) {
        v.id(c.model);
        v.uint(c.slots, 1, 32);
        v.uint(c.board_us, 0, max_margin);
        v.uint(c.cycle_us, 0, max_margin);
        v.uint(c.boards, 1, 99'999'999);
        v.uint(c.lot_us, 0, max_margin);
      },
      0, Order::first_field);
}

template <class V>
void visit_work(V& v, Facts& f) {
  lines(
      v, "panel", "panel-place", f.panel,
      [&](PanelPlace& p) {
        v.uint(p.slot, 1, 32);
        v.quoted(p.position, Charset::display);
      },
      0, Order::first_field);
  lines(
      v, "work-steps", "work-step", f.work_steps,
      [&](WorkStep& s) {
        v.uint(s.index, 1, 16);
        v.quoted(s.name, Charset::display);
        v.quoted(s.reason, Charset::display);
      },
      0, Order::first_field);
}

template <class V>
void visit_deviations(V& v, Facts& f) {
  lines(
      v, "deviations", "deviation", f.deviations,
      [&](Deviation& d) {
        v.quoted(d.number, Charset::display);
        v.id(d.rule);
        v.uint(d.boards, 1, 9'999'999);
        v.utc(d.expires);
        v.quoted(d.reason, Charset::display);
      },
      0, Order::first_field);
}

template <class V>
void visit(V& v, Facts& f) {
  digest_line(v, "owner", f.owner);
  id_line(v, "product", f.product);
  line(v, "release", [&] { v.quoted(f.release, Charset::display); });
  line(v, "firmware", [&] {
    v.quoted(f.firmware_name, Charset::people);
    v.uint(f.firmware_size, 1, max_image);
    v.digest(f.firmware_digest);
    v.word(f.firmware_format, firmware_format_words);
  });
  lines(v, "checksums", "checksum", f.checksums, [&](Checksum& c) {
    v.quoted(c.name, Charset::display);
    v.id(c.over);
    v.hex(c.value, 8);
    v.hex(c.fill, 8);
  });
  line(v, "configuration", [&] { v.word(f.configuration, configuration_words); });
  lines(
      v, "config-fields", "config-field", f.config_fields,
      [&](ConfigFact& field) {
        v.id(field.field);
        v.hex(field.bits, 8);
        v.quoted(field.meaning, Charset::people);
      },
      0, Order::first_field);
  visit_supply_facts(v, f.supply);
  visit_supply_calculation(v, f);
  lines(
      v, "stations", "station", f.stations, [&](StationFacts& s) { visit_station_facts(v, s); }, 0,
      Order::first_field);
  lines(
      v, "plain-files", "plain", f.plain_files,
      [&](PlainFileFacts& p) { visit_plain_file_facts(v, p); }, 0, Order::first_field);
  visit_work(v, f);
  visit_cycles(v, f);
  visit_deviations(v, f);
  uint_line(v, "findings-counted", f.findings_counted, 0, 999'999);
  lines(
      v, "findings", "finding", f.findings,
      [&](FindingFacts& finding) {
        v.uint(finding.index, 1, 100);
        v.word(finding.level, level_words);
        v.id(finding.rule);
        v.quoted(finding.text, Charset::people);
      },
      0, Order::first_field);
  line(v, "tool", [&] { v.quoted(f.tool, Charset::display); });
}

} // namespace cardseal::format
