// What people are told of two releases.
#include "sides.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

using Lines = std::vector<std::string>;

struct Case {
  const char* from; // a line of the example, once in it
  const char* to;
  Lines expected;
};

// Differences of the example and of the example with one line changed.
template <class T, class TextOf>
void check_cases(const std::vector<Case>& cases, TextOf text_of) {
  const compare::Side a = example_side();
  for (const Case& each : cases) {
    compare::Side b = a;
    text_of(b) = decoded_value<T>(changed(example_of<T>(), each.from, each.to));
    INFO(each.from);
    CHECK(spelled(compared(a, b)) == each.expected);
  }
}

} // namespace

TEST_CASE("a release has no difference from itself, in whatever order its sign-offs stand") {
  compare::Side a = example_side();
  const compare::Report report = compared(a, a);
  CHECK(report.differences.empty());
  CHECK(compare::closing_sentence(report) == "no difference");
  compare::Side b = a;
  package::SignoffEntry second = a.package.signoffs.front();
  second.signoff.person.set("o-birk");
  a.package.signoffs.push_back(second);
  b.package.signoffs.insert(b.package.signoffs.begin(), second);
  CHECK(compared(a, b).differences.empty());
}

TEST_CASE("each setting is said in plain words with both values") {
  const std::vector<Case> cases{
      {"supply station 3300", "supply station 3400", {"! supply voltage: 3.300 V -> 3.400 V"}},
      {"supply station 3300\nerase chip\nblank yes\nverify low-high 3000 3500",
       "supply board 3300\nerase chip\nblank yes\nverify nominal -",
       {"! supply source: station -> board", "! verify: low-high -> nominal",
        "! verify at its low: 3.000 V -> none", "! verify at its high: 3.500 V -> none"}},
      {"slots 000000ff", "slots 00000015", {"slots permitted: 1, 2, 3, 4, 5, 6, 7, 8 -> 1, 3, 5"}},
      {"lock reversible", "lock permanent", {"! lock: reversible -> permanent"}},
      {"erase chip", "erase none", {"erase: chip -> none"}},
      {"blank yes", "blank no", {"blank check: yes -> no"}},
      {"verify low-high 3000 3500",
       "verify low-high 3000 3600",
       {"! verify at its high: 3.500 V -> 3.600 V"}},
      {"stop-after 3", "stop-after 0", {"stop a slot: after 3 failures in a row -> never"}},
      {"plain-file yes", "plain-file no", {"plain file: yes -> no"}},
      {"station-models 1\nstation-model bench-eight",
       "station-models 2\nstation-model bench-eight\nstation-model row-six",
       {"station model row-six: not there -> there"}},
      {"device atmega328p", "device atmega328", {"! device: atmega328p -> atmega328"}},
      {"device-id 3 1e950f ffffff",
       "device-id -",
       {"device ID value: 1e950f -> none", "device ID mask: ffffff -> none"}},
      {"board frost-node-main 3", "board frost-node-main 4", {"board revision: 3 -> 4"}},
      {"kept 1\nkept-range eeprom 1020 4",
       "kept 0",
       {"! kept as the maker left it: eeprom 0x000003FC: length 4 bytes -> not there"}},
      {"title \"Frost alarm node\"",
       "title \"FROST\"",
       {"title on display: Frost alarm node -> FROST"}},
      {"epoch 0", "epoch 1", {"epoch: 0 -> 1"}},
      {"sequence 7", "sequence 8", {"sequence: 7 -> 8"}},
      {"file \"NOTES.txt\" 55 sha256:c",
       "file \"NOTES.txt\" 56 sha256:c",
       {"document NOTES.txt: size 55 bytes, digest "
        "sha256:c24fcec2ca9cdfb70a692a608379f6546979df03c9d837e9e2e3dbf2df36c54a -> size 56 bytes, "
        "digest sha256:c24fcec2ca9cdfb70a692a608379f6546979df03c9d837e9e2e3dbf2df36c54a"}},
  };
  check_cases<format::Manifest>(
      cases, [](auto& side) -> auto& { return side.package.manifest; });
}

TEST_CASE("each part of the serial numbers is said in plain words with both values") {
  const std::vector<Case> cases{
      {"scheme frost-serial 100000 1 890000",
       "scheme frost-serial 100001 1 880000",
       {"scheme first number: 100000 -> 100001", "scheme capacity: 890000 -> 880000"}},
      {"130000 139999",
       "130000 140000",
       {"numbers left out, 130000 139999: there -> not there",
        "numbers left out, 130000 140000: not there -> there"}},
      {"literal \"FN-\"", "literal \"FM-\"", {"part 1: text FN- -> text FM-"}},
      {"\"CRC-16/XMODEM\" be", "\"CRC-16/XMODEM\" le", {"CRC byte order: be -> le"}},
      {"placement eeprom 32 4 binary-le",
       "placement eeprom 36 4 binary-be",
       {"placed in eeprom: at 0x00000020, encoding binary-le -> at 0x00000024, encoding "
        "binary-be"}},
      {"placements 2\nplacement eeprom 0 20 ascii 1 5 20 - yes placeholder",
       "placements 1",
       {"placed in eeprom: at 0x00000000, length 20 bytes, encoding ascii, first part 1, last part "
        "5, padding 20, with CRC yes, before it placeholder -> not there"}},
  };
  check_cases<format::Manifest>(
      cases, [](auto& side) -> auto& { return side.package.manifest; });
}

TEST_CASE("what people decided by is said in plain words with both values") {
  const std::vector<Case> cases{
      {"cksel 00000002 \"internal oscillator, as delivered\"",
       "cksel 0000000f \"crystal\"",
       {"! field cksel: bits 0x02, meaning internal oscillator, as delivered -> bits 0x0F, meaning "
        "crystal"}},
      {"configuration as-delivered",
       "configuration none",
       {"! configuration comes from: as-delivered -> none"}},
      {"board-supply 3000 3600",
       "board-supply 3000 5500",
       {"! board takes at most: 3.600 V -> 5.500 V"}},
      {"flash 0000f001", "flash 0000f002", {"checksum byte-sum-16 flash: F001 -> F002"}},
      {"3350000 250000",
       "3400500 199500",
       {"margin board-entry-max program: standing holds, worst 3350 mV, margin 250 mV -> standing "
        "holds, worst 3400.5 mV, margin 199.5 mV"}},
      {"35200000 1021",
       "35200001 1021",
       {"cycle time at bench-eight: cycle 35200 ms, boards 1021 -> cycle 35200.001 ms, boards "
        "1021"}},
      {"supply-discharge 200 2026",
       "supply-current 200 2026",
       {"! deviation DEV-26-014: rule supply-discharge, boards 200, expires 2026-12-31T23:59:59Z, "
        "reason boards stay in the jig for two seconds -> rule supply-current, boards 200, expires "
        "2026-12-31T23:59:59Z, reason boards stay in the jig for two seconds"}},
      {"work-step 2 \"device ID\"",
       "work-step 3 \"device ID\"",
       {"order of work: device ID: step 2 -> step 3"}},
      {"JOBS/FROST241.HEX",
       "JOBS/FROST242.HEX",
       {"plain file of bench-eight: path JOBS/FROST241.HEX, checksum shown byte-sum-16, value "
        "shown "
        "F001 -> path JOBS/FROST242.HEX, checksum shown byte-sum-16, value shown F001"}},
  };
  check_cases<format::Facts>(
      cases, [](auto& side) -> auto& { return side.package.facts; });
}

TEST_CASE("a new finding is one difference, although it moves the number of all behind it") {
  const compare::Side a = example_side();
  compare::Side b = a;
  format::FindingFacts old = b.package.facts.findings.items[0];
  format::FindingFacts added = old;
  added.level = format::Level::refuse;
  added.rule.set("slot-missing");
  added.text.set("slot 9");
  old.index = 2;
  b.package.facts.findings.items[0] = added;
  b.package.facts.findings.add(old);
  b.package.facts.findings_counted = 2;
  CHECK(spelled(compared(a, b)) ==
        Lines{"finding slot-missing: not there -> level refuse, text slot 9"});
}

TEST_CASE(
    "a margin that turns to harm stands first and is marked, with the sign of what is short") {
  compare::Side a = example_side();
  compare::Side b = example_side();
  std::string text = example_of<format::Facts>();
  const std::string from = "bench-eight holds uv 3600000 \"entry-max-mv * 1000 - station-high-uv\" "
                           "3350000 250000";
  const std::string to = "bench-eight harms uv 3600000 \"entry-max-mv * 1000 - station-high-uv\" "
                         "3850000 250000";
  REQUIRE(text.find(from) != std::string::npos);
  text.replace(text.find(from), from.size(), to);
  b.package.facts = decoded_value<format::Facts>(text);
  CHECK(spelled(compared(a, b)) ==
        Lines{"! margin board-entry-max program: standing holds, worst 3350 mV, margin 250 mV -> "
              "standing harms, worst 3850 mV, margin -250 mV"});
}

TEST_CASE(
    "differences stand by risk: supply, settings, configuration, firmware, serials, the rest") {
  const compare::Side a = example_side();
  compare::Side b = a;
  format::Manifest& m = b.package.manifest;
  m.title.set("other");
  m.scheme.value.first = 5;
  m.slots = 1;
  m.lock = format::Lock::permanent;
  m.supply_mv = 5000;
  b.package.facts.config_fields.items[0].bits = 3;
  b.package.facts.tool.set("other");
  b.package.signoffs.clear();
  b.image = image_at(0x100, "Application");
  const compare::Report report = compared(a, b);
  std::vector<std::string> keys;
  for (const compare::Difference& one : report.differences) {
    keys.push_back(one.key);
  }
  CHECK(keys == Lines{"manifest.supply", "manifest.lock", "facts.config-field", "manifest.slots",
                      "firmware.all", "manifest.scheme", "manifest.title", "signoff",
                      "facts.tool"});
  CHECK(report.can_damage == 3);
  CHECK(compare::closing_sentence(report) == "9 differences, 3 of them can damage boards");
}

TEST_CASE("firmware is compared region by region, with counts, ranges and digests") {
  const compare::Side a = example_side(); // 0x100 to 0x10A
  compare::Side b = a;
  b.image = image_at(0x102, "plicaTION!");
  const std::vector<image::NamedRange> regions{
      {"boot", {0, 0x100}}, {"flash", {0x100, 8}}, {"data", {0x200, 8}}};
  const compare::Report report = compared(a, b, regions);
  REQUIRE(report.differences.size() == 2);
  const compare::Difference& flash = report.differences[0];
  CHECK(flash.key == "firmware.flash");
  CHECK(flash.a == "8 bytes, " + crypto::spell_digest(image_at(0x100, "applicat").digest()));
  CHECK(flash.b == "6 bytes, " + crypto::spell_digest(image_at(0x102, "plicaT").digest()));
  REQUIRE(flash.bytes);
  CHECK(flash.bytes->different_bytes == 1);
  CHECK(flash.bytes->only_in_a == 2);
  CHECK(flash.bytes->only_in_b == 0);
  REQUIRE(flash.bytes->ranges.size() == 2);
  CHECK(flash.bytes->ranges[0].range == image::Segment{0x100, 2});
  CHECK(flash.bytes->ranges[1].range == image::Segment{0x107, 1});
  const compare::Difference& rest = report.differences[1];
  CHECK(rest.what == "in no region");
  CHECK(rest.bytes->different_bytes == 3);
  CHECK(rest.bytes->only_in_b == 1);
  CHECK(spelled(compared(a, b)).front().starts_with("all bytes: 11 bytes, sha256:"));
}

TEST_CASE("regions that overlap are an error, not a wrong count") {
  const compare::Side a = example_side();
  const Try<compare::Report> report = compare::compare(a, a, {{"a", {0, 5}}, {"b", {4, 5}}});
  REQUIRE(!report);
  CHECK(report.error().code == "regions-overlap");
}

TEST_CASE("sign-offs are compared between sealed packages only") {
  const compare::Side a = example_side();
  compare::Side b = a;
  b.package.signoffs.front().signoff.person.set("o-birk");
  b.package.signoffs.front().signoff.units_a_station.value = 7;
  CHECK(spelled(compared(a, b)) ==
        Lines{"signed as release: by i-fell, time 2026-03-03T10:00:00Z, units a station 5000 -> by "
              "o-birk, time 2026-03-03T10:00:00Z, units a station 7"});
  b.package.signoffs.clear();
  CHECK(compared(a, b).differences.front().b == std::nullopt);
  CHECK(compared(a, b).signoffs_compared);
  b.sealed = false;
  CHECK(compared(a, b).differences.empty());
  CHECK(!compared(a, b).signoffs_compared);
}

TEST_CASE("numbers are kept as numbers beside their words, and what is absent as nothing") {
  const compare::Side a = example_side();
  compare::Side b = a;
  b.package.manifest.supply_mv = 5000;
  b.package.manifest.previous.set({1});
  const compare::Report report = compared(a, b);
  REQUIRE(report.differences.size() == 2);
  const compare::FieldChange& volts = report.differences[0].fields.at(0);
  CHECK(volts.name == "voltage");
  CHECK(volts.number_a == 3300);
  CHECK(volts.number_b == 5000);
  const compare::FieldChange& previous = report.differences[1].fields.at(0);
  CHECK(previous.name == "previous");
  CHECK(!previous.a);
  CHECK(previous.b->starts_with("sha256:01"));
  CHECK(report.differences[1].a == "none");
}
