#include "job/release_xml.h"

#include <algorithm>

#include "base/number.h"
#include "xml/join.h"

namespace cardseal::job {

namespace {

constexpr std::string_view name_characters =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.-_";

bool read_allowed(const xml::Element& element, const FirmwareRef& firmware, const char* attribute) {
  constexpr xml::Word<bool> words[] = {{"allowed", true}};
  if (!element.has(attribute)) {
    return false;
  }
  const bool allowed = element.choice(attribute, words);
  if (element.sound() && firmware.format != FirmwareFormat::intel_hex &&
      firmware.format != FirmwareFormat::s_record) {
    element.refuse(attribute, "only a file of records can lack an end or have comments",
                   std::string(element.raw(attribute)), "format=\"intel-hex\" or \"s-record\"",
                   "delete it");
  }
  return allowed;
}

std::optional<ElfBy> read_elf_by(const xml::Element& element, const FirmwareRef& firmware) {
  constexpr xml::Word<ElfBy> words[] = {{"sections", ElfBy::sections},
                                        {"segments", ElfBy::segments}};
  if (!element.has("elf-by")) {
    return std::nullopt;
  }
  const ElfBy by = element.choice("elf-by", words);
  if (element.sound() && firmware.format != FirmwareFormat::elf) {
    element.refuse("elf-by", "only ELF has sections and segments",
                   std::string(element.raw("elf-by")), "format=\"elf\"", "delete it");
  }
  return by;
}

FirmwareRef read_firmware(const xml::Element& element) {
  constexpr xml::Word<FirmwareFormat> formats[] = {{"intel-hex", FirmwareFormat::intel_hex},
                                                   {"s-record", FirmwareFormat::s_record},
                                                   {"elf", FirmwareFormat::elf},
                                                   {"raw", FirmwareFormat::raw}};
  FirmwareRef firmware;
  firmware.file = element.path("file");
  firmware.sha256 = element.sha256("sha256");
  firmware.format = element.choice("format", formats);
  if (element.has("image-sha256")) {
    firmware.image_sha256 = element.sha256("image-sha256");
  }
  firmware.place = element.place_of("sha256");
  firmware.missing_end_allowed = read_allowed(element, firmware, "missing-end");
  firmware.comments_allowed = read_allowed(element, firmware, "comments");
  firmware.elf_by = read_elf_by(element, firmware);
  if (firmware.format == FirmwareFormat::raw) {
    firmware.address = element.hex("address", 0, 0xFFFFFFFF);
  } else if (element.has("address")) {
    element.refuse("address", "only a raw file has no addresses of its own",
                   std::string(element.raw("address")), "no address, or format=\"raw\"",
                   "delete it");
  }
  return firmware;
}

ProfileRef read_profile(const xml::Element& element) {
  return {element.path("profile"), element.place_of("profile")};
}

VersionText read_version_text(const xml::Element& element) {
  VersionText version;
  version.address = element.hex("address", 0, 0xFFFFFFFF);
  version.text = element.display("text", 1, 32);
  version.place = element.place();
  return version;
}

DeviceRef read_device_ref(const xml::Element& element) {
  constexpr xml::Word<format::Configuration> words[] = {
      {"none", format::Configuration::none},
      {"as-delivered", format::Configuration::as_delivered},
      {"in-firmware", format::Configuration::in_firmware}};
  return {read_profile(element), element.choice("configuration", words)};
}

Changes read_changes(const xml::Element& element) {
  Changes changes;
  changes.package = element.path("since");
  changes.order = element.display("order", 1, 24);
  changes.place = element.place();
  for (const xml::Element& one : element.many("range", 0, 32)) {
    changes.ranges.push_back({one.id("region", 16), one.hex("address", 0, 0xFFFFFFFF),
                              one.size("length", 1, 0xFFFFFFFF), one.place()});
  }
  return changes;
}

std::vector<ProfileRef> read_stations(const xml::Element& element) {
  std::vector<ProfileRef> stations;
  for (const xml::Element& one : element.many("station", 1, 8)) {
    ProfileRef station = read_profile(one);
    for (const ProfileRef& before : stations) {
      if (before.file == station.file && one.sound()) {
        one.refuse("profile", "a station is named twice", station.file,
                   xml::joined({"another than in line ", std::to_string(before.place.line)}),
                   "delete one of the two");
      }
    }
    stations.push_back(std::move(station));
  }
  return stations;
}

PermittedSlots read_slots(const xml::Element& element) {
  PermittedSlots slots;
  const std::string_view text = element.raw("permitted");
  slots.place = element.place_of("permitted");
  if (element.sound() && !parse_slots(text, slots.mask)) {
    element.refuse("permitted",
                   text.empty() ? "no slot is permitted"
                                : "permitted slots are not spelled as read",
                   xml::quoted(text), "slots 1 to 32 in rising order, such as 1-6 or 1-3,5",
                   "name each slot once; leave out those that must stay empty");
  }
  return slots;
}

SupplyWanted read_supply(const xml::Element& element) {
  constexpr xml::Word<format::SupplySource> sources[] = {{"station", format::SupplySource::station},
                                                         {"board", format::SupplySource::board}};
  SupplyWanted supply;
  supply.source = element.choice("source", sources);
  supply.supply_mv = element.uint("millivolts", 1, 60000);
  supply.place = element.place_of("millivolts");
  return supply;
}

// The two supplies at which it is verified, which stand exactly with verify="low-high".
void read_verify_limits(const xml::Element& element, format::Verify verify, SupplyWanted& supply) {
  if (verify == format::Verify::low_high) {
    format::VerifyLimits limits;
    limits.low_mv = static_cast<std::uint16_t>(element.uint("verify-low-millivolts", 1, 60000));
    limits.high_mv = static_cast<std::uint16_t>(element.uint("verify-high-millivolts", 1, 60000));
    supply.verify = limits;
    return;
  }
  for (const char* name : {"verify-low-millivolts", "verify-high-millivolts"}) {
    if (element.has(name)) {
      element.refuse(name, "a supply to verify at is stated, but the job does not verify at two",
                     std::string(element.raw(name)), "none, or verify=\"low-high\" in <job>",
                     "delete it, or state low-high");
    }
  }
}

Settings read_settings(const xml::Element& element) {
  constexpr xml::Word<format::Erase> erases[] = {{"none", format::Erase::none},
                                                 {"chip", format::Erase::chip}};
  constexpr xml::Word<format::Verify> verifies[] = {{"none", format::Verify::none},
                                                    {"nominal", format::Verify::nominal},
                                                    {"low-high", format::Verify::low_high}};
  constexpr xml::Word<format::Lock> locks[] = {{"none", format::Lock::none},
                                               {"reversible", format::Lock::reversible},
                                               {"permanent", format::Lock::permanent}};
  Settings settings;
  settings.erase = element.choice("erase", erases);
  settings.blank_check = element.yes_no("blank-check");
  settings.verify = element.choice("verify", verifies);
  settings.lock = element.choice("lock", locks);
  settings.stop_after = element.uint("stop-after", 0, 99);
  settings.plain_file = element.yes_no("plain-file");
  settings.place = element.place_of("verify");
  return settings;
}

LotWanted read_lot(const xml::Element& element) {
  LotWanted lot;
  lot.good_boards = element.uint("good-boards", 1, 999999);
  lot.yield_ppm = element.uint("yield-millionths", 100000, 1000000);
  lot.slowest_ppm = element.uint("slowest-board-millionths", 0, 1000000);
  lot.set_up_s = element.uint("set-up-seconds", 0, 3600);
  lot.place = element.place();
  return lot;
}

Utc read_day(const xml::Element& element, const char* attribute) {
  const std::string day(element.raw(attribute));
  Utc time;
  if (element.sound() && !parse_utc(day + "T23:59:59Z", time)) {
    element.refuse(attribute, "not a date", xml::quoted(day), "YYYY-MM-DD, a real day",
                   "write it like 2027-03-31");
  }
  return time;
}

void check_deviation(const xml::Element& element, const Deviation& deviation,
                     const std::vector<Deviation>& before) {
  for (const Deviation& other : before) {
    if (element.sound() && other.rule == deviation.rule) {
      element.refuse("rule", "two deviations set one rule aside", deviation.rule,
                     xml::joined({"another than in line ", std::to_string(other.place.line)}),
                     "leave one of the two out");
    }
  }
  if (element.sound() && !before.empty() && deviation.number <= before.back().number) {
    element.refuse("number", "deviations are not in the order of their numbers", deviation.number,
                   xml::joined({"behind ", before.back().number}),
                   "name each number once, in rising order");
  }
}

std::vector<Deviation> read_deviations(const xml::Element& element) {
  std::vector<Deviation> deviations;
  for (const xml::Element& one : element.many("deviation", 1, 8)) {
    Deviation deviation;
    deviation.number = one.display("number", 1, 24);
    deviation.rule = one.id("rule");
    deviation.boards = one.uint("boards", 1, 9999999);
    deviation.expires = read_day(one, "expires");
    deviation.reason = one.display("reason", 1, 96);
    deviation.place = one.place_of("rule");
    check_deviation(one, deviation, deviations);
    deviations.push_back(std::move(deviation));
  }
  return deviations;
}

std::vector<DocumentRef> read_documents(const xml::Element& element) {
  std::vector<DocumentRef> documents;
  for (const xml::Element& one : element.many("document", 0, 8)) {
    DocumentRef document{one.path("file"), one.plain("name", 1, 24, name_characters), one.place()};
    if (one.sound() && document.name.starts_with('.')) {
      one.refuse("name", "the name of a document starts with a dot", document.name,
                 "a letter or digit first", "rename it");
    }
    for (const DocumentRef& before : documents) {
      if (before.name == document.name && one.sound()) {
        one.refuse("name", "two documents have one name", document.name,
                   xml::joined({"another than in line ", std::to_string(before.place.line)}),
                   "rename one of the two");
      }
    }
    documents.push_back(std::move(document));
  }
  return documents;
}

std::optional<xml::Digest> read_previous(const xml::Element& root) {
  const std::string_view text = root.raw("previous");
  constexpr std::string_view prefix = "sha256:";
  xml::Digest digest{};
  if (!root || text == "-") {
    return std::nullopt;
  }
  if (!text.starts_with(prefix) || !parse_hex_bytes(text.substr(prefix.size()), digest)) {
    root.refuse("previous", "previous is not the identity of a package", xml::quoted(text),
                "- for none, or sha256: and 64 hex digits in lower case",
                "cardseal show prints a package's identity");
  }
  return digest;
}

bool parse_slot(std::string_view text, std::uint64_t& slot) {
  return parse_uint(text, slot) && slot >= 1 && slot <= 32;
}

} // namespace

bool parse_slots(std::string_view text, std::uint32_t& mask) {
  std::uint32_t out = 0;
  std::uint64_t last = 0;
  while (true) {
    const std::size_t comma = text.find(',');
    const std::string_view range = text.substr(0, comma);
    const std::size_t dash = range.find('-');
    std::uint64_t from = 0;
    std::uint64_t to = 0;
    if (!parse_slot(range.substr(0, dash), from)) {
      return false;
    }
    to = from;
    if (dash != std::string_view::npos && (!parse_slot(range.substr(dash + 1), to) || to <= from)) {
      return false;
    }
    if (from <= last) {
      return false;
    }
    for (std::uint64_t slot = from; slot <= to; ++slot) {
      out |= std::uint32_t{1} << (slot - 1);
    }
    last = to;
    if (comma == std::string_view::npos) {
      mask = out;
      return true;
    }
    text.remove_prefix(comma + 1);
  }
}

xml::All<ReleaseFile> read_release(const xml::Document& document) {
  xml::Reader reader(document);
  const xml::Element root = reader.root("release");
  ReleaseFile release;
  release.product = root.id("product", 16);
  release.version = root.display("version", 1, 24);
  release.epoch = root.uint("epoch", 0, 999999);
  release.sequence = root.uint("sequence", 1, 999999999);
  release.title = root.display("title", 1, 24);
  release.previous = read_previous(root);
  release.place = root.place();
  release.firmware = read_firmware(root.one("firmware"));
  if (const xml::Element version = root.maybe("version-text")) {
    release.version_text = read_version_text(version);
  }
  for (const xml::Element& one : root.many("own-sum", 0, 4)) {
    release.own_sums.push_back(
        {one.hex("address", 0, 0xFFFFFFFF), one.size("length", 1, 0xFFFFFFFF), one.place()});
  }
  release.device = read_device_ref(root.one("device"));
  release.board = read_profile(root.one("board"));
  release.stations = read_stations(root.one("stations"));
  release.slots = read_slots(root.one("slots"));
  const xml::Element supply = root.one("supply");
  release.supply = read_supply(supply);
  release.settings = read_settings(root.one("job"));
  read_verify_limits(supply, release.settings.verify, release.supply);
  release.lot = read_lot(root.one("lot-estimate"));
  const xml::Element serial = root.one_of({"serial", "no-serial"});
  if (serial.name() == "serial") {
    release.serial = serial::read_scheme(serial);
  }
  if (const xml::Element changes = root.maybe("changes")) {
    release.changes = read_changes(changes);
    if (root.sound() && !release.previous) {
      root.refuse("previous", "changes are stated against no package", "-",
                  "the identity of the package that <changes> names", "cardseal show prints it");
    }
  }
  if (const xml::Element deviations = root.maybe("deviations")) {
    release.deviations = read_deviations(deviations);
  }
  if (const xml::Element documents = root.maybe("documents")) {
    release.documents = read_documents(documents);
  }
  return reader.result(std::move(release));
}

} // namespace cardseal::job
