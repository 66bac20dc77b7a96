// From release.xml to sealed texts.
#include <algorithm>
#include <fstream>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "format/codec.h"
#include "job/rules.h"
#include "package/package.h"
#include "releases.h"
#include "support/sealed_examples.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

const std::string node_path = "packages/01-frost-node/release.xml";

job::ReleaseFile node() {
  return taken_file(node_path, job::read_release);
}

io::Path node_folder() {
  return source_path(node_path).parent_path();
}

// The frost node with one thing changed, and what `rule` finds then.
template <class Change>
std::string found(const Rule& rule, Change change) {
  job::ReleaseFile release = node();
  change(release);
  return found_by(rule, compiled(release, node_folder()).findings, node_folder());
}

void write(const io::Path& path, std::string_view content) {
  std::ofstream(path, std::ios::binary) << content;
}

// A copy of the frost node's profiles and firmware, to be changed.
struct Copy {
  Copy() {
    for (const char* part : {"profiles", "firmware"}) {
      std::filesystem::copy(node_folder() / part, folder / part);
    }
    release.documents.clear();
    release.firmware.image_sha256.reset();
  }
  // `hex` as the firmware, approved.
  void firmware(std::string_view hex) {
    write(folder / "firmware/frost_node.hex", hex);
    release.firmware.sha256 = crypto::sha256(bytes_of(hex));
  }
  TempFolder folder;
  job::ReleaseFile release = node();
};

std::string hex_line(std::uint32_t address, std::string_view two_digits) {
  const std::uint32_t data =
      static_cast<std::uint32_t>(std::stoul(std::string(two_digits), nullptr, 16));
  const std::uint32_t sum = 1 + (address >> 8) + (address & 0xFF) + data;
  return fmt::format(":01{:04X}00{:02X}{:02X}\n", address, data, (0x100 - sum) & 0xFF);
}

} // namespace

TEST_CASE("the frost node can be packed, and its notes are few") {
  const job::CompiledRelease out = compiled(node(), node_folder());
  CHECK(job::list_findings(out.findings).find("refuse") == std::string::npos);
  CHECK(out.findings.kept().size() == 2);
  CHECK(out.findings.count(job::rules::not_sensed) == 1); // bench-one
  CHECK(out.findings.count(job::rules::write_units) == 1);
}

TEST_CASE("the frost node's manifest says what its release says") {
  const format::Manifest m = compiled(node(), node_folder()).manifest;
  CHECK(m.owner == owner);
  CHECK(m.product.view() == "frost-node");
  CHECK(m.release.view() == "2.4.1");
  CHECK(m.epoch == 0);
  CHECK(m.sequence == 7);
  CHECK(m.title.view() == "FROST NODE 2.4.1");
  CHECK_FALSE(m.previous.present);
  CHECK(m.device.view() == "atmega328p");
  REQUIRE(m.device_id.present);
  CHECK(m.device_id.value.size == 3);
  CHECK(m.device_id.value.value[0] == 0x1E);
  CHECK(m.device_id.value.value[2] == 0x0F);
  CHECK(m.device_id.value.mask[2] == 0xFF);
  CHECK(m.board.view() == "frost-node-board");
  CHECK(m.board_revision == 3);
  REQUIRE(m.station_models.count == 2);
  CHECK(m.station_models.items[0].view() == "bench-one");
  CHECK(m.station_models.items[1].view() == "row-six");
  CHECK(m.slots == 0x3F);
  CHECK(m.supply_source == format::SupplySource::station);
  CHECK(m.supply_mv == 3300);
  CHECK(m.erase == format::Erase::chip);
  CHECK(format::is_yes(m.blank_check));
  CHECK(m.verify == format::Verify::nominal);
  CHECK(m.lock == format::Lock::none);
  CHECK(m.kept.count == 0);
  CHECK(m.stop_after == 3);
  CHECK(format::is_yes(m.plain_file));
}

TEST_CASE("the frost node's serial scheme is sealed part by part") {
  const format::Manifest m = compiled(node(), node_folder()).manifest;
  REQUIRE(m.scheme.present);
  CHECK(m.scheme.value.id.view() == "fn-serial");
  CHECK(m.scheme.value.first == 1);
  CHECK(m.scheme.value.step == 1);
  CHECK(m.scheme.value.capacity == 999999);
  REQUIRE(m.parts.count == 2);
  CHECK(m.parts.items[0].literal.value.view() == "FN");
  CHECK(m.parts.items[1].index == 2);
  CHECK(m.parts.items[1].width.value == 6);
  CHECK_FALSE(m.parts.items[1].literal.present);
  REQUIRE(m.placements.count == 2);
  CHECK(m.placements.items[0].address == 0x7FF0);
  CHECK(m.placements.items[0].length == 8);
  CHECK(m.placements.items[1].encoding == format::Encoding::binary_le);
  CHECK(m.placements.items[1].before == format::Before::erased);
}

TEST_CASE("placements are sealed in order of address, whatever the author's order") {
  job::ReleaseFile release = node();
  std::swap(release.serial->placements[0], release.serial->placements[1]);
  const format::Manifest m = compiled(release, node_folder()).manifest;
  CHECK(m.placements.items[0].address == 0x7FF0);
  CHECK(m.placements.items[1].address == 0x7FF8);
}

TEST_CASE("a previous package is sealed, and no serial leaves no scheme") {
  job::ReleaseFile release = node();
  release.previous.emplace().fill(0x5A);
  release.serial.reset();
  const format::Manifest m = compiled(release, node_folder()).manifest;
  REQUIRE(m.previous.present);
  CHECK(m.previous.value[31] == 0x5A);
  CHECK_FALSE(m.scheme.present);
  CHECK(m.parts.count + m.placements.count == 0);
}

// Values of Python's binascii.crc_hqx(b, 0xFFFF), zlib.crc32(b) and sum(b) over what GNU objcopy -I
// ihex -O binary makes of the file; for the station's, filled with 0xFF to 32 KiB.
TEST_CASE("the frost node's facts hold the file's checksums and those that a station shows") {
  const format::Facts f = compiled(node(), node_folder()).facts;
  CHECK(f.owner == owner);
  CHECK(f.firmware_name.view() == "frost_node.hex");
  CHECK(f.firmware_size == 2345);
  CHECK(f.firmware_digest == node().firmware.sha256);
  CHECK(f.firmware_format == format::FirmwareFormat::intel_hex);
  struct Known {
    const char* name;
    const char* over;
    std::uint32_t value;
  };
  constexpr Known known[] = {
      {"CRC-16/IBM-3740", "image", 0x5C24},     {"CRC-32/ISO-HDLC", "flash", 0x1B8B2554},
      {"CRC-32/ISO-HDLC", "image", 0x284BBB00}, {"byte-sum-16", "flash", 0xB228},
      {"byte-sum-16", "image", 0x6AEC},         {"byte-sum-32", "image", 0x00016AEC}};
  REQUIRE(f.checksums.count == std::size(known));
  for (std::size_t i = 0; i < std::size(known); ++i) {
    INFO(known[i].name << " over " << known[i].over);
    CHECK(f.checksums.items[i].name.view() == known[i].name);
    CHECK(f.checksums.items[i].over.view() == known[i].over);
    CHECK(f.checksums.items[i].value == known[i].value);
    CHECK(f.checksums.items[i].fill == 0xFF);
  }
  REQUIRE(f.plain_files.count == 1);
  const format::PlainFileFacts& plain = f.plain_files.items[0];
  CHECK(plain.model.view() == "bench-one");
  CHECK(plain.path.view() == "BENCH/FIRMWARE.HEX");
  CHECK(plain.form == format::PlainForm::intel_hex);
  CHECK(plain.record_length == 16);
  CHECK(plain.line_end == format::LineEnd::crlf);
  CHECK(plain.shown_checksum.view() == "byte-sum-16");
  CHECK(plain.shown_value == 0xB228);
}

TEST_CASE("the frost node's facts hold its stations, supplies and findings") {
  const format::Facts f = compiled(node(), node_folder()).facts;
  CHECK(f.supply.device_low == 1800);
  CHECK(f.supply.device_high == 5500);
  CHECK(f.supply.device_absolute_max == 6000);
  CHECK(f.supply.board_low == 3000);
  CHECK(f.supply.board_high == 3600);
  REQUIRE(f.stations.count == 2);
  CHECK(f.stations.items[0].model.view() == "bench-one");
  CHECK(f.stations.items[0].reads == format::StationReads::plain_file);
  CHECK(f.stations.items[1].reads == format::StationReads::signed_package);
  CHECK(f.stations.items[1].slots == 0x3F);
  CHECK(f.stations.items[1].supply_low_mv == 1800);
  CHECK(f.stations.items[1].supply_high_mv == 5400);
  CHECK(f.stations.items[1].supply_step_mv == 100);
  CHECK(f.stations.items[1].partition == format::Partition::type_0c);
  CHECK(f.stations.items[1].cluster_sectors == 8);
  CHECK(f.stations.items[1].max_sectors == 3842048);
  CHECK(f.stations.items[1].volume_label.view() == "FROSTNODE");
  REQUIRE(f.margins.count == 29);
  const auto margin = std::find_if(f.margins.items.begin(), f.margins.items.end(), [](auto& m) {
    return m.id.view() == "board-entry-min" && m.phase == format::SupplyPhase::program;
  });
  REQUIRE(margin != f.margins.items.end());
  CHECK(margin->model.view() == "bench-one"); // its tolerance is 75 mV, row-six's 50 mV
  CHECK(margin->standing == format::Standing::holds);
  CHECK(margin->limit == 3'000'000);
  CHECK(margin->value.value.value == 3'184'359); // 3300 - 75 - 38.5 - 2.2 mV, as worked below
  CHECK(margin->value.value.distance == 184'359);
  CHECK(margin->formula.view() == "entry-low-uv - entry-min-mv * 1000");
  REQUIRE(f.work_steps.count == 8);
  CHECK(f.work_steps.items[0].name.view() == "foreign voltage check");
  CHECK(f.work_steps.items[3].name.view() == "erase");
  CHECK(f.work_steps.items[7].name.view() == "supply off");
  REQUIRE(f.cycles.count == 2);
  CHECK(f.cycles.items[0].cycle_us > f.cycles.items[0].board_us);
  CHECK(f.lot.good_boards == 1000);
  CHECK(f.cycles.items[0].boards == 1021); // 1000 / 0.98, up
  CHECK(f.findings_counted == 2);
  REQUIRE(f.findings.count == 2);
  CHECK(f.findings.items[0].index == 1);
  CHECK(f.findings.items[0].level == format::Level::warn);
  CHECK(f.findings.items[0].rule.view() == "foreign-voltage-not-sensed");
  CHECK(f.findings.items[1].level == format::Level::note);
  CHECK(f.findings.items[1].rule.view() == "write-unit-in-part");
  CHECK(f.tool.view() == "cardseal 0.1.0");
}

// Values of avr-libc's LFUSE_DEFAULT and HFUSE_DEFAULT, as the profile has them.
TEST_CASE("the frost node's facts name its configuration as it is delivered") {
  const format::Facts f = compiled(node(), node_folder()).facts;
  CHECK(f.configuration == format::Configuration::as_delivered);
  REQUIRE(f.config_fields.count == 15);
  CHECK(f.config_fields.items[0].field.view() == "blb0");
  bool found = false;
  for (const format::ConfigFact& field : f.config_fields.view()) {
    if (field.field.view() == "cksel") {
      found = true;
      CHECK(field.bits == 0x02);
      CHECK(field.meaning.view() == "internal oscillator, as delivered");
    }
  }
  CHECK(found);
}

namespace {

// A release for a ready profile of templates/author/devices, with one firmware of Intel HEX.
struct ForDevice {
  explicit ForDevice(const std::string& device) {
    copy.release.device.file =
        source_path("templates/author/devices/" + device + ".xml").string(); // absolute: as it is
    copy.release.device.configuration = format::Configuration::in_firmware;
    copy.release.serial.reset();
  }
  job::CompiledRelease compile(std::string_view hex) {
    copy.firmware(hex);
    return compiled(copy.release, copy.folder.path());
  }
  Copy copy;
};

const format::Checksum* device_sum(const format::Facts& facts) {
  for (const format::Checksum& sum : facts.checksums.view()) {
    if (sum.name.view() == format::device_sum_name) {
      return &sum;
    }
  }
  return nullptr;
}

} // namespace

// PIC16LF1459, DS41620C pages 28-29: word 00AA at the first and the last location, E048. The
// configuration words are blank in the file.
TEST_CASE("a 14-bit part's facts hold the sum that its programming specification prints") {
  ForDevice part("pic16f1459");
  const job::CompiledRelease out = part.compile(":02000000AA0054\n:023FFE00AA0017\n"
                                                ":020000040001F9\n:04000E00FF3FFF3F72\n"
                                                ":00000001FF\n");
  const format::Checksum* sum = device_sum(out.facts);
  REQUIRE(sum != nullptr);
  CHECK(sum->value == 0xE048);
  CHECK(sum->over.view() == "flash");
  CHECK(sum->fill == 0x3FFF);
  CHECK(out.findings.count(job::rules::word_bits) == 0);
  CHECK(out.facts.config_fields.count > 10);
}

TEST_CASE("what the maker wrote is sealed as kept") {
  ForDevice part("tx32");
  part.copy.release.device.configuration = format::Configuration::as_delivered;
  const format::Manifest m = part.compile(":020000040800F2\n:0400000000100020CC\n"
                                          ":00000001FF\n")
                                 .manifest;
  REQUIRE(m.kept.count == 1);
  CHECK(m.kept.items[0].region.view() == "flash");
  CHECK(m.kept.items[0].address == 0x800FFF8);
  CHECK(m.kept.items[0].length == 8);
}

TEST_CASE("a station's checksum follows its profile: range, configuration, before the serial") {
  struct Case {
    const char* from;
    const char* to;
    const char* name;
    std::uint32_t value;
  };
  // Values of Python's sum() over what objcopy makes of the file: filled to 32 KiB, or as it is.
  constexpr Case cases[] = {
      {"digits=\"4\"", "digits=\"2\"", "byte-sum-16", 0x28},
      {"\"byte-sum-16\" over=\"code-region\"", "\"byte-sum-16\" over=\"image-span\"", "byte-sum-16",
       0x6AEC},
      {"configuration=\"no\"", "configuration=\"yes\"", "byte-sum-16",
       (0xB228 + 4 * 0xFF) & 0xFFFF}, // 32 KiB and four blank configuration bytes
      {"\"byte-sum-16\" over=\"code-region\" fill=\"0xff\"",
       "\"byte-sum-16\" over=\"code-region\" fill=\"0x00\"", "byte-sum-16", 0x6AEC},
      {"serial=\"before\"", "serial=\"after\"", "none", 0},
  };
  for (const Case& one : cases) {
    INFO(one.to);
    Copy copy;
    const io::Path station = copy.folder / "profiles/bench-one.xml";
    std::ifstream file(station, std::ios::binary);
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    write(station, with(text, one.from, one.to));
    const format::Facts f = compiled(copy.release, copy.folder.path()).facts;
    CHECK(f.plain_files.items[0].shown_checksum.view() == one.name);
    CHECK(f.plain_files.items[0].shown_value == one.value);
  }
}

TEST_CASE("what is compiled is a package that opens to the same texts") {
  job::CompiledRelease out = compiled(node(), node_folder());
  Try<io::Bytes> built =
      package::build(out.manifest, out.facts, out.image, std::move(out.documents));
  INFO((built ? "" : describe(built.error())));
  REQUIRE(built);
  const Try<package::Package> opened = package::open(std::move(*built), "a.crp");
  INFO((opened ? "" : describe(opened.error())));
  REQUIRE(opened);
  CHECK(opened->manifest.files.items[0].name.view() == "release-notes.txt");
  CHECK(encoded(opened->facts) == encoded(out.facts));
  format::Manifest expected = out.manifest;
  const format::Manifest& m = opened->manifest;
  expected.segments = m.segments;
  expected.image_size = m.image_size;
  expected.image_digest = m.image_digest;
  expected.chain_head = m.chain_head;
  expected.facts_size = m.facts_size;
  expected.facts_digest = m.facts_digest;
  expected.files = m.files;
  CHECK(encoded(m) == encoded(expected));
  CHECK_FALSE(encoded(m).empty());
}

TEST_CASE("where release.xml lies does not change what is sealed") {
  const Copy copy;
  const job::CompiledRelease here = compiled(node(), node_folder());
  const job::CompiledRelease there = compiled(copy.release, copy.folder.path());
  CHECK(encoded(here.facts) == encoded(there.facts));
  CHECK_FALSE(encoded(here.facts).empty());
}

TEST_CASE("a supply above the board's limit is refused with both values") {
  CHECK(found(job::rules::above_board, [](auto& r) { r.supply.supply_mv = 3900; }) ==
        "release.xml:17: program: supply of 3900 mV of row-six can be 3950 mV at "
        "frost-node-board, above its 3600 mV (state a supply inside 3000 to 3600 mV, or correct "
        "the board's profile)\n"
        "release.xml:17: program: supply of 3900 mV of bench-one can be 3975 mV at "
        "frost-node-board, above its 3600 mV (state a supply inside 3000 to 3600 mV, or correct "
        "the board's profile)\n");
}

// Worked by hand, 28 AWG as ASTM B258 and IEC 60028 give it, 0.213 ohm/m at 20 degrees: 0.3 m at 40
// degrees is 0.0689 ohm; there and back, with four worn contacts of 0.5 ohm, 2.138 ohm; 18 mA drop
// 38.5 mV. The shared return of 20 milliohm carries 6 times 18 mA: 2.2 mV. 2900 - 50 - 40.6 mV.
TEST_CASE("what cable, worn contacts and a shared return take is missed at the board") {
  CHECK_THAT(found(job::rules::below_board, [](auto& r) { r.supply.supply_mv = 2900; }),
             ContainsSubstring("row-six can be 2809.359 mV at frost-node-board"));
  CHECK(found(job::rules::below_board, [](auto& r) { r.supply.supply_mv = 3300; }).empty());
}

TEST_CASE("a diode and a regulator stand between the station's supply and the device") {
  Copy copy;
  const io::Path board = copy.folder / "profiles/frost-node-board.xml";
  std::ifstream file(board, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  const auto findings = [&](std::string_view entry) {
    write(board, with(text, "entry=\"at-device\"", std::string(entry)));
    return found_by(job::rules::outside_programming,
                    compiled(copy.release, copy.folder.path()).findings, copy.folder.path());
  };
  CHECK(findings("entry=\"before-diode\" drop-least-millivolts=\"100\" "
                 "drop-most-millivolts=\"300\"")
            .empty());
  CHECK_THAT(findings("entry=\"before-diode\" drop-least-millivolts=\"100\" "
                      "drop-most-millivolts=\"600\""),
             ContainsSubstring("can be 2609.359 mV at atmega328p"));
  CHECK(findings("entry=\"before-regulator\" dropout-millivolts=\"200\" "
                 "output-min-millivolts=\"2940\" output-max-millivolts=\"3060\"")
            .empty());
  CHECK_THAT(findings("entry=\"before-regulator\" dropout-millivolts=\"200\" "
                      "output-min-millivolts=\"2600\" output-max-millivolts=\"3060\""),
             ContainsSubstring("can be 2600 mV at atmega328p"));
}

TEST_CASE("a supply off the station's step is refused with the nearest two") {
  CHECK(found(job::rules::off_step, [](auto& r) { r.supply.supply_mv = 3350; }) ==
        "release.xml:17: supply of 3350 mV is no step of row-six, which gives 1800 to 5400 mV by "
        "100 mV (nearest are 3300 and 3400 mV)\n"
        "release.xml:17: supply of 3350 mV is no step of bench-one, which gives 2400 to 4200 mV by "
        "300 mV (nearest are 3300 and 3600 mV)\n");
}

TEST_CASE("both supplies on are refused, and no deviation sets that aside") {
  Copy copy;
  const io::Path board = copy.folder / "profiles/frost-node-board.xml";
  std::ifstream file(board, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  write(board, with(text, "own=\"none\"", "own=\"mains\""));
  const job::CompiledRelease out = compiled(copy.release, copy.folder.path());
  CHECK(found_by(job::rules::both_supplies, out.findings, node_folder()) ==
        source_path(node_path).string().substr(node_folder().string().size() + 1) +
            ":17: the station would give 3300 mV while frost-node-board has a mains supply of its "
            "own (state source=\"board\", or program the board without its own supply and say so "
            "in its profile)\n");
  CHECK_FALSE(job::rules::both_supplies.waivable);
  CHECK_FALSE(job::rules::absolute_max.waivable);
  copy.release.supply.source = format::SupplySource::board;
  copy.release.stations.pop_back(); // bench-one's lines could not follow that supply
  CHECK_FALSE(compiled(copy.release, copy.folder.path()).findings.refused());
}

TEST_CASE("a slot that a station lacks is refused by number") {
  CHECK(found(job::rules::slot_missing, [](auto& r) { r.slots.mask = 0x8000007F; }) ==
        "release.xml:16: slots 7, 32 permitted, row-six has slots 1 to 6 (permit only slots that "
        "every named station has)\n"
        "release.xml:16: slots 7, 32 permitted, bench-one has slots 1 to 6 (permit only slots that "
        "every named station has)\n");
}

TEST_CASE("firmware outside the device is refused with its line and addresses") {
  Copy copy;
  copy.firmware(hex_line(0x10, "01") + hex_line(0x8000, "02") + ":00000001FF\n");
  const job::CompiledRelease out = compiled(copy.release, copy.folder.path());
  CHECK(found_by(job::rules::firmware_outside, out.findings, copy.folder.path()) ==
        "firmware/frost_node.hex:2: firmware has 1 byte at 0x8000; atmega328p has flash 0x0 to "
        "0x7FFF, eeprom 0x810000 to 0x8103FF, fuses 0x820000 to 0x820002, lock 0x830000 (link the "
        "firmware for this device, or correct its "
        "profile)\n");
  CHECK(out.facts.checksums.count == 0);
}

TEST_CASE("a segment over three regions and gaps is judged piece by piece") {
  Copy copy;
  // 64 KiB in one piece from 0x7FF0: 16 bytes of flash, then nothing.
  write(copy.folder / "firmware/frost_node.hex", std::string(0x10000, '\0'));
  copy.release.firmware.format = job::FirmwareFormat::raw;
  copy.release.firmware.address = 0x80FFF0;
  copy.release.firmware.sha256 = crypto::sha256(bytes_of(std::string(0x10000, '\0')));
  const job::CompiledRelease out = compiled(copy.release, copy.folder.path());
  REQUIRE(out.findings.count(job::rules::firmware_outside) == 2);
  CHECK_THAT(out.findings.kept()[0].text,
             ContainsSubstring("firmware has 16 bytes at 0x80FFF0 to 0x80FFFF"));
  CHECK_THAT(out.findings.kept()[1].text,
             ContainsSubstring("firmware has 64496 bytes at 0x810400 to 0x81FFEF"));
  CHECK(out.facts.firmware_format == format::FirmwareFormat::raw);
}

TEST_CASE("64 segments fit a package and 65 are refused with both numbers") {
  Copy copy;
  copy.release.serial.reset();
  std::string hex;
  for (std::uint32_t i = 0; i < 64; ++i) {
    hex += hex_line(2 * i, "5A");
  }
  copy.firmware(hex + ":00000001FF\n");
  CHECK(compiled(copy.release, copy.folder.path()).findings.count(job::rules::format_limit) == 0);
  copy.firmware(hex + hex_line(0x100, "5A") + ":00000001FF\n");
  CHECK(found_by(job::rules::format_limit, compiled(copy.release, copy.folder.path()).findings,
                 copy.folder.path()) ==
        source_path(node_path).string() +
            ":6: segments of the firmware: 65, a package holds at most 64 (fill the small gaps "
            "when the firmware is built)\n");
}

TEST_CASE("a firmware file's name longer than facts hold is refused") {
  Copy copy;
  const std::string name(65, 'f');
  std::filesystem::rename(copy.folder / "firmware/frost_node.hex", copy.folder / name);
  copy.release.firmware.file = name;
  const job::CompiledRelease out = compiled(copy.release, copy.folder.path());
  CHECK(out.findings.count(job::rules::format_limit) == 1);
  CHECK_THAT(
      found_by(job::rules::format_limit, out.findings, copy.folder.path()),
      ContainsSubstring("bytes of the firmware file's name: 65, a package holds at most 64"));
}

TEST_CASE("every file that can't be read is named, not only the first") {
  Copy copy;
  write(copy.folder / "firmware/frost_node.hex", ":0100000001FF\n:00000001FF\n");
  write(copy.folder / "profiles/row-six.xml", "<station/>");
  std::filesystem::remove(copy.folder / "profiles/atmega328p.xml");
  const auto out = try_compile(copy.release, copy.folder.path());
  REQUIRE_FALSE(out);
  const std::string errors = listed(out.error());
  CHECK_THAT(errors, ContainsSubstring("frost_node.hex:1"));
  CHECK_THAT(errors, ContainsSubstring("row-six.xml:1"));
  CHECK_THAT(errors, ContainsSubstring("atmega328p.xml"));
}

TEST_CASE("facts keep a hundred findings, the gravest first, and count all") {
  Copy copy;
  copy.release.settings.verify = format::Verify::none;
  std::string hex;
  for (std::uint32_t i = 0; i < 150; ++i) {
    hex += hex_line(0x8000 + 2 * i, "5A");
  }
  copy.firmware(hex_line(0, "01") + hex + ":00000001FF\n");
  const job::CompiledRelease out = compiled(copy.release, copy.folder.path());
  CHECK(out.findings.count(job::rules::firmware_outside) == 150);
  CHECK(out.facts.findings.count == 100);
  CHECK(out.facts.findings.items[0].level == format::Level::refuse);
  CHECK(out.facts.findings.items[99].index == 100);
  CHECK(out.facts.findings.items[99].rule.view() == "firmware-outside-device");
  // 150 outside, 151 segments, verify, three bytes of the reset vector, one write unit in part, a
  // station that senses nothing
  CHECK(out.facts.findings_counted == 155);
  CHECK_FALSE(encoded(out.facts).empty());
}

TEST_CASE("a station that shows fewer digits shows the last ones") {
  Copy copy;
  const io::Path bench = copy.folder / "profiles/bench-one.xml";
  std::ifstream file(bench, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  write(bench, with(text, "digits=\"4\"", "digits=\"2\""));
  CHECK(compiled(copy.release, copy.folder.path()).facts.plain_files.items[0].shown_value == 0x28);
  write(bench, with(with(text, "over=\"code-region\"", "over=\"image-span\""), "byte-sum-16",
                    "CRC-32/ISO-HDLC"));
  CHECK(compiled(copy.release, copy.folder.path()).facts.plain_files.items[0].shown_value ==
        0xBB00);
}
