#include "profile/station.h"

#include <algorithm>

#include "base/crc.h"
#include "profile/entries.h"
#include "xml/join.h"

namespace cardseal::profile {

namespace {

constexpr std::string_view dos_characters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";

StationSupply read_station_supply(const xml::Element& element) {
  StationSupply supply;
  supply.min_mv = element.uint("min-millivolts", 0, 60000);
  supply.max_mv = element.uint("max-millivolts", 0, 60000);
  supply.step_mv = element.uint("step-millivolts", 1, 60000);
  supply.tolerance_mv = element.uint("tolerance-millivolts", 0, 5000);
  supply.tolerance_ppm = element.uint("tolerance-millionths", 0, 500000);
  supply.senses_foreign_voltage = element.yes_no("senses-foreign-voltage");
  supply.source = read_source(element);
  supply.place = element.place();
  if (!element.sound()) {
    return supply;
  }
  if (supply.min_mv > supply.max_mv) {
    element.refuse("min-millivolts", "the station's lowest supply is above its highest",
                   std::to_string(supply.min_mv),
                   xml::joined({"at most ", std::to_string(supply.max_mv)}),
                   "exchange or correct them");
  } else if ((supply.max_mv - supply.min_mv) % supply.step_mv != 0) {
    element.refuse("step-millivolts", "the steps don't lead from the lowest to the highest supply",
                   std::to_string(supply.step_mv),
                   xml::joined({"a divisor of ", std::to_string(supply.max_mv - supply.min_mv)}),
                   "look up the station's lowest and highest setting");
  }
  return supply;
}

StationCurrent read_current(const xml::Element& element) {
  StationCurrent current;
  current.slot_ma = element.uint("slot-milliamps", 1, 100000);
  current.all_ma = element.uint("all-milliamps", 1, 100000);
  current.shared_return_mohm = element.uint("shared-return-milliohms", 0, 100000);
  current.source = read_source(element);
  current.place = element.place();
  if (element.sound() && current.all_ma < current.slot_ma) {
    element.refuse("all-milliamps", "all slots together get less than one slot may take",
                   std::to_string(current.all_ma),
                   xml::joined({"at least ", std::to_string(current.slot_ma)}),
                   "correct one of the two");
  }
  return current;
}

StationSwitching read_switching(const xml::Element& element) {
  StationSwitching out;
  out.settle_us = element.uint("settle-microseconds", 0, 1000000000);
  out.wait_us = element.uint("wait-microseconds", 0, 1000000000);
  if (element.yes_no("discharges")) {
    out.bleed_ohm = element.uint("bleed-ohms", 1, 1000000);
  } else if (element.has("bleed-ohms")) {
    element.refuse("bleed-ohms", "a station that discharges nothing has no bleed resistance",
                   "bleed-ohms", "no bleed-ohms with discharges=\"no\"",
                   "delete it, or correct discharges");
  }
  out.removal_mv = element.uint("removal-millivolts", 1, 60000);
  out.source = read_source(element);
  out.place = element.place();
  return out;
}

StationSignals read_station_signals(const xml::Element& element) {
  constexpr xml::Word<bool> levels[] = {{"follow-supply", true}, {"fixed", false}};
  StationSignals signals;
  signals.follow_supply = element.choice("level", levels);
  for (const char* name : {"millivolts", "tolerance-millivolts"}) {
    if (element.sound() && signals.follow_supply && element.has(name)) {
      element.refuse(name, "lines that follow the supply have no level of their own", name,
                     "neither millivolts nor tolerance-millivolts with level=\"follow-supply\"",
                     "delete it, or correct level");
    }
  }
  if (!signals.follow_supply) {
    signals.set_mv = element.uint("millivolts", 1, 60000);
    signals.tolerance_mv = element.uint("tolerance-millivolts", 0, 10000);
  }
  signals.source = read_source(element);
  signals.place = element.place();
  return signals;
}

StationAbilities read_abilities(const xml::Element& element) {
  StationAbilities abilities;
  abilities.verifies_low_high = element.yes_no("verify-low-high");
  abilities.keeps_words = element.yes_no("keep-words-over-erase");
  abilities.works_own_supply = element.yes_no("board-supplies-itself");
  abilities.source = read_source(element);
  abilities.place = element.place();
  return abilities;
}

StationWork read_work(const xml::Element& element) {
  constexpr xml::Word<SlotOrder> orders[] = {{"together", SlotOrder::together},
                                             {"one-after-another", SlotOrder::one_after_another}};
  StationWork work;
  work.order = element.choice("slots", orders);
  work.clears_buffer = element.yes_no("clears-buffer");
  work.text_columns = element.uint("text-columns", 1, 80);
  work.program_bytes_per_s = element.uint("program-bytes-per-second", 1000, 1000000000);
  work.verify_bytes_per_s = element.uint("verify-bytes-per-second", 1000, 1000000000);
  work.overhead_us = element.uint("overhead-microseconds", 0, 1000000000);
  work.handling_board_us = element.uint("handling-board-microseconds", 0, 1000000000);
  work.handling_cycle_us = element.uint("handling-cycle-microseconds", 0, 1000000000);
  work.source = read_source(element);
  work.place = element.place();
  return work;
}

bool is_dos_part(std::string_view part, std::size_t max) {
  return !part.empty() && part.size() <= max &&
         part.find_first_not_of(dos_characters) == std::string_view::npos;
}

// A name with one run of '#' before its ending, as a name with digits there.
std::string with_digits(std::string name) {
  const std::size_t first = name.find('#');
  const std::size_t past = std::min(name.find_first_not_of('#', first), name.size());
  if (first != std::string::npos && first < name.find('.') &&
      name.find('#', past) == std::string::npos) {
    std::fill(name.begin() + static_cast<std::ptrdiff_t>(first),
              name.begin() + static_cast<std::ptrdiff_t>(past), '0');
  }
  return name;
}

// 8.3 in upper case, with or without an extension.
std::string read_dos_name(const xml::Element& element, bool extension) {
  const char* attribute = extension ? "name" : "folder";
  std::string stated(element.raw(attribute));
  const std::string name = extension ? with_digits(stated) : stated;
  const std::size_t dot = name.find('.');
  const bool ok = dot == std::string::npos
                      ? is_dos_part(name, 8)
                      : extension && is_dos_part(std::string_view(name).substr(0, dot), 8) &&
                            is_dos_part(std::string_view(name).substr(dot + 1), 3);
  if (element.sound() && !ok) {
    element.refuse(attribute, "not a short file name in upper case", stated,
                   extension ? "1 to 8 of A-Z 0-9 - _, '.', 1 to 3 more, e.g. FIRMWARE.HEX"
                             : "1 to 8 of A-Z 0-9 - _",
                   "write it as the station's manual does");
  }
  return stated;
}

constexpr std::string_view plain_sums[] = {"byte-sum-16", "byte-sum-32", "word-sum-16-le",
                                           "word-sum-16-be", "device-sum-16"};

std::uint32_t digits_of(std::string_view algorithm) { // 0: no such algorithm
  CrcModel model{};
  if (parse_crc(algorithm, model)) {
    return model.width / 4;
  }
  const bool known =
      std::find(std::begin(plain_sums), std::end(plain_sums), algorithm) != std::end(plain_sums);
  return !known ? 0 : algorithm == "byte-sum-32" ? 8 : 4;
}

std::string algorithm_names() {
  std::string names;
  for (const std::string_view name : plain_sums) {
    names += xml::joined({name, "; "});
  }
  for (const CrcModel& model : crc_models) {
    names += xml::joined({model.name, "; "});
  }
  return names + "or parameters that none of them has, such as 16/3d65/0000/r/ffff";
}

// What a station that reads the file's bytes alone could not show.
void check_device_sum(const xml::Element& element, const ShownChecksum& sum) {
  if (element.sound() && sum.algorithm == "device-sum-16" &&
      (sum.over != SumRange::code_region || !sum.configuration)) {
    element.refuse("algorithm", "the device's own sum goes over its code and configuration",
                   sum.over == SumRange::code_region ? "configuration=\"no\""
                                                     : "over=\"image-span\"",
                   "over=\"code-region\" and configuration=\"yes\"", "correct one of the two");
  }
}

ShownChecksum read_checksum(const xml::Element& element) {
  constexpr xml::Word<SumRange> ranges[] = {{"code-region", SumRange::code_region},
                                            {"image-span", SumRange::image_span}};
  constexpr xml::Word<bool> serial[] = {{"before", false}, {"after", true}};
  ShownChecksum sum;
  sum.algorithm = element.raw("algorithm");
  sum.over = element.choice("over", ranges);
  sum.fill = static_cast<std::uint8_t>(element.hex("fill", 0, 0xFF));
  sum.configuration = element.yes_no("configuration");
  sum.after_serial = element.choice("serial", serial);
  sum.digits = element.uint("digits", 1, 8);
  sum.place = element.place();
  const std::uint32_t width = digits_of(sum.algorithm);
  if (!element.sound()) {
    return sum;
  }
  if (width == 0) {
    element.refuse("algorithm", "no such checksum", sum.algorithm, algorithm_names(),
                   "'CCITT' alone names several: find out which");
  } else if (sum.digits > width) {
    element.refuse("digits", "more digits than the checksum has", std::to_string(sum.digits),
                   xml::joined({"at most ", std::to_string(width)}), "count them on the display");
  }
  check_device_sum(element, sum);
  return sum;
}

void read_hex_layout(const xml::Element& element, PlainFile& file) {
  constexpr xml::Word<LineEnd> ends[] = {{"lf", LineEnd::lf}, {"crlf", LineEnd::crlf}};
  if (file.format == PlainFormat::intel_hex) {
    file.record_length = element.uint("record-length", 1, 255);
    file.line_end = element.choice("line-end", ends);
    return;
  }
  for (const char* attribute : {"record-length", "line-end"}) {
    if (element.has(attribute)) {
      element.refuse(attribute, "a raw file has no records", attribute,
                     "neither record-length nor "
                     "line-end with format=\"raw\"",
                     "delete it, or correct format");
    }
  }
}

PlainFile read_plain_file(const xml::Element& element) {
  constexpr xml::Word<PlainFormat> formats[] = {{"intel-hex", PlainFormat::intel_hex},
                                                {"raw", PlainFormat::raw}};
  PlainFile file;
  file.name = read_dos_name(element, true);
  if (element.has("folder")) {
    file.folder = read_dos_name(element, false);
    if (file.folder == "CARDSEAL") {
      element.refuse("folder", "the card's own files stand there", file.folder, "any other folder",
                     "have the station look for its file elsewhere");
    }
  }
  file.format = element.choice("format", formats);
  read_hex_layout(element, file);
  file.source = read_source(element);
  file.place = element.place();
  if (const xml::Element sum = element.maybe("checksum")) {
    file.checksum = read_checksum(sum);
  }
  return file;
}

CardWanted read_card(const xml::Element& element) {
  CardWanted card;
  card.cluster_sectors = element.uint("cluster-sectors", 1, 128);
  card.mbr = element.yes_no("mbr");
  card.max_sectors = element.uint("max-sectors", 1, 0xFFFFFFFF);
  card.label = element.plain("label", 1, 11, dos_characters);
  card.source = read_source(element);
  card.place = element.place();
  if (element.sound() && (card.cluster_sectors & (card.cluster_sectors - 1)) != 0) {
    element.refuse("cluster-sectors", "sectors a cluster are no power of two",
                   std::to_string(card.cluster_sectors), "1, 2, 4, 8, 16, 32, 64 or 128",
                   "choose the one that the station's manual names, or 8");
  }
  // Microsoft FAT specification (2005), 3.5: 65,525 clusters, and 16 away from that limit.
  const std::uint64_t least = std::uint64_t{65541} * card.cluster_sectors;
  if (element.sound() && card.max_sectors < least) {
    element.refuse("max-sectors", "the card is too small for FAT32 with such clusters",
                   std::to_string(card.max_sectors),
                   xml::joined({"more than ", std::to_string(least)}), "lower cluster-sectors");
  }
  return card;
}

// A file for each board has the board's number in its name and in what a station sums up.
void check_unit_files(const xml::Element& root, const Station& station) {
  const bool each = station.serial == SerialAbility::unit_file;
  if (!station.plain_file) {
    return;
  }
  const PlainFile& file = *station.plain_file;
  if (each != (file.name.find('#') != std::string::npos)) {
    root.refuse("serial", "the plain file's name does not fit how the station numbers units",
                file.name,
                each ? "1 to 8 '#' in the name, such as U####.HEX" : "a name without '#'",
                "'#' stands for a digit of the unit's ordinal, exactly when serial=\"unit-file\"");
  }
  if (each && file.checksum && !file.checksum->after_serial) {
    root.refuse("serial", "a file for each board has a checksum for each board",
                "<checksum serial=\"before\">", "<checksum serial=\"after\">, or none",
                "there is no one value to compare with");
  }
}

void check_agreement(const xml::Element& root, const Station& station) {
  if (!root.sound()) {
    return;
  }
  if (station.reads == Reads::plain_file && station.serial == SerialAbility::loader) {
    root.refuse("serial", "a station that reads plain files gets no signed allotment", "loader",
                "none, counter, file or unit-file", "say how the station itself numbers units");
  }
  if (station.reads != Reads::plain_file && station.serial == SerialAbility::unit_file) {
    root.refuse("serial", "a station that reads signed packages takes no file for each board",
                "unit-file", "loader, or another", "say how the station itself numbers units");
  }
  const bool wanted = station.reads == Reads::plain_file;
  if (wanted != station.plain_file.has_value()) {
    root.refuse("reads", "reads and <plain-file> don't fit together",
                wanted ? "no <plain-file>" : "a <plain-file>",
                "<plain-file> exactly when reads=\"plain-file\"", "add or delete it");
  }
}

} // namespace

xml::All<Station> read_station(const xml::Document& document) {
  constexpr xml::Word<Reads> reads[] = {{"signed-package", Reads::signed_package},
                                        {"plain-file", Reads::plain_file},
                                        {"signed-no-log", Reads::signed_no_log}};
  constexpr xml::Word<SerialAbility> abilities[] = {{"none", SerialAbility::none},
                                                    {"counter", SerialAbility::counter},
                                                    {"file", SerialAbility::file},
                                                    {"loader", SerialAbility::loader},
                                                    {"unit-file", SerialAbility::unit_file}};
  xml::Reader reader(document);
  const xml::Element root = reader.root("station");
  Station station;
  station.id = root.id("id", 16);
  station.title = root.text("title", 1, 40);
  station.slots = root.uint("slots", 1, 32);
  station.reads = root.choice("reads", reads);
  station.serial = root.choice("serial", abilities);
  station.place = root.place();
  station.supply = read_station_supply(root.one("supply"));
  station.current = read_current(root.one("current"));
  station.switching = read_switching(root.one("switching"));
  station.signals = read_station_signals(root.one("signals"));
  station.abilities = read_abilities(root.one("abilities"));
  station.work = read_work(root.one("work"));
  if (const xml::Element entries = root.maybe("entries")) {
    read_entries(entries, station.entries, station.entries_source);
  }
  if (const xml::Element file = root.maybe("plain-file")) {
    station.plain_file = read_plain_file(file);
  }
  station.card = read_card(root.one("card"));
  check_agreement(root, station);
  check_unit_files(root, station);
  return reader.result(std::move(station));
}

} // namespace cardseal::profile
