#include "card/sheet.h"

#include <fmt/format.h>

#include "base/crc.h"
#include "card/plain_file.h"
#include "card/unit_words.h"
#include "crypto/sha256.h"
#include "unit/unit.h"

namespace cardseal::card {
namespace {

constexpr std::string_view other_cautions =
    "  - Boards are sensitive to static charge (ESD): wrist strap and mat, as your\n"
    "    site's rules say.\n"
    "  - The device's data sheet and your local safety rules decide, not this sheet.\n";

bool by_station(const format::Manifest& m) {
  return m.supply_source == format::SupplySource::station;
}

// Facts don't say whether a board has a supply of its own; a station that feeds one that has is
// refused when the release is packed.
std::string own_supply_caution(const format::Manifest& manifest) {
  return by_station(manifest)
             ? "  - Two supplies at once destroy a board too: nothing else may feed it, no "
               "battery,\n"
               "    no bench supply, no data cable.\n"
             : "  - Two supplies at once destroy a board too: the board brings its own, so the\n"
               "    station's supply stays off.\n";
}

// What a meter must say at an empty slot before the first board.
std::string meter_reading(const SheetInput& in) {
  return by_station(in.package.manifest) ? "about " + volts(in.package.manifest.supply_mv)
                                         : std::string("0 V: the station supplies nothing");
}

std::string supply_cautions(const SheetInput& in) {
  const format::SupplyFacts& supply = in.package.facts.supply;
  return fmt::format(
             "  - A wrong supply voltage destroys boards; this one takes {} to {}.\n"
             "    Before the first board, and after every change, a meter at an empty slot\n"
             "    must read {}.\n",
             volts(supply.board_low), volts(supply.board_high), meter_reading(in)) +
         own_supply_caution(in.package.manifest);
}

std::string cautions(const std::vector<SheetInput>& jobs) {
  std::string out = "CAUTIONS\n";
  for (const SheetInput& in : jobs) {
    out += jobs.size() == 1 ? std::string()
                            : fmt::format("  For {}:\n", in.package.manifest.title.view());
    out += supply_cautions(in);
  }
  out += jobs.size() == 1 ? "" : "  For all of them:\n";
  return out + std::string(other_cautions);
}

bool is_engineering(const SheetInput& in) {
  return in.order.work_class == format::WorkClass::engineering;
}

class Lines {
public:
  void put(std::string_view text) { out_ += fmt::format("{}\n", text); }
  void pair(std::string_view name, std::string_view value) {
    out_ += fmt::format("  {:<22}{}\n", name, value);
  }
  void wrapped(std::string_view text) { // at spaces, within 76 columns
    constexpr std::size_t room = 70;
    while (text.size() > room) {
      std::size_t cut = text.rfind(' ', room);
      cut = cut == std::string_view::npos || cut == 0 ? room : cut;
      put(fmt::format("      {}", text.substr(0, cut)));
      text.remove_prefix(text[cut] == ' ' ? cut + 1 : cut);
    }
    put(fmt::format("      {}", text));
  }
  void check(std::string_view name, std::string_view value) { // with a second person's box
    out_ += fmt::format("  {:<22}{:<40} [  ] [  ]\n", name, value);
  }
  std::string take() { return std::move(out_); }

private:
  std::string out_;
};

std::string_view supply_words(const format::Manifest& manifest) {
  return manifest.supply_source == format::SupplySource::station
             ? "made by the station"
             : "brought by the board: the station's supply stays OFF";
}

std::string verify_text(const format::Manifest& manifest) {
  const format::VerifyLimits& limits = manifest.verify_limits.value;
  switch (manifest.verify) {
  case format::Verify::none:
    return "off";
  case format::Verify::nominal:
    return "on, at the supply voltage";
  case format::Verify::low_high:
    return fmt::format("on, at {} and at {}", volts(limits.low_mv), volts(limits.high_mv));
  }
  return "off";
}

void put_card(Lines& lines, const SheetInput& in) {
  lines.pair("card", crypto::hex(in.order.card_id));
  lines.pair("station",
             fmt::format("{} (model {})", in.order.station.view(), in.order.model.view()));
  lines.pair("work order",
             fmt::format("{}, class {}", in.order.work_order.view(),
                         format::work_class_words[static_cast<std::size_t>(in.order.work_class)]));
  if (is_engineering(in)) {
    lines.pair("NOT FOR SHIPMENT", "nothing made with this card ships");
  }
}

void put_release(Lines& lines, const SheetInput& in) {
  const format::Manifest& m = in.package.manifest;
  lines.pair("release",
             fmt::format("{} ({} {})", m.title.view(), m.product.view(), m.release.view()));
  lines.pair("board", fmt::format("{} revision {}", m.board.view(), m.board_revision));
  lines.pair("device", m.device.view());
  lines.pair("package fingerprint", crypto::hex(in.package.manifest_digest));
}

void put_approvals(Lines& lines, const SheetInput& in) {
  for (const package::SignoffEntry& entry : in.package.signoffs) {
    char time[utc_length];
    const std::size_t size = spell_utc(entry.signoff.time, time);
    lines.pair("signed off",
               fmt::format("{} in role {}, {} (claimed)", entry.signoff.person.view(),
                           format::role_words[static_cast<std::size_t>(entry.signoff.role)],
                           std::string_view(time, size)));
  }
}

// The text of one of the card's units, counted from its first.
Try<std::string> unit_text(const SheetInput& in, std::uint64_t unit) {
  format::Allotment stated; // what of it stands in texts
  stated.work_class = in.order.work_class;
  stated.date_code = in.order.date_code;
  stated.first = in.order.first;
  stated.spans = in.order.spans;
  return unit_words(in.package.manifest, format::ordinal_at(stated, unit), &stated);
}

// Which boards, and what it takes of the people there.
Try<void> put_boards(Lines& lines, const SheetInput& in) {
  const bool kept = in.order.numbers == format::Numbers::kept;
  lines.pair("serial numbers", kept ? "each board keeps its own; the station reads it first"
                                    : "each board keeps its own; scan or key in its label");
  std::uint64_t unit = 0;
  for (const format::OrdinalRange& span : in.order.spans.view()) {
    Try<std::string> first = unit_text(in, unit);
    Try<std::string> last = unit_text(in, unit + span.last - span.first);
    if (!first || !last) {
      return Unexpected(!first ? std::move(first).error() : std::move(last).error());
    }
    lines.pair(unit == 0 ? "boards" : "",
               span.first == span.last ? *first : fmt::format("{} to {}", *first, *last));
    unit += span.last - span.first + 1;
  }
  lines.put("  No other board is worked on with this card. What a board keeps in its data\n"
            "  memory may be gone afterwards.");
  return {};
}

Try<void> put_numbers(Lines& lines, const SheetInput& in) {
  const format::Manifest& m = in.package.manifest;
  lines.pair("units", fmt::format("{}", in.order.units));
  if (!m.scheme.present) {
    lines.pair("serial numbers", "none in this release");
    return {};
  }
  if (in.order.numbers != format::Numbers::fresh) {
    return put_boards(lines, in);
  }
  Try<std::string> first = unit_text(in, 0);
  Try<std::string> last = unit_text(in, in.order.units - 1);
  if (!first || !last) {
    return Unexpected(!first ? std::move(first).error() : std::move(last).error());
  }
  lines.pair("serial numbers", fmt::format("{} to {}", *first, *last));
  return {};
}

// Where each enabled slot works on a panel of boards.
void put_panel(Lines& lines, const SheetInput& in) {
  for (const format::PanelPlace& place : in.package.facts.panel.view()) {
    if ((in.enabled_slots >> (place.slot - 1) & 1U) != 0) {
      lines.pair(fmt::format("slot {} works on", place.slot),
                 fmt::format("{} of the panel", place.position.view()));
    }
  }
}

void put_deviations(Lines& lines, const SheetInput& in) {
  for (const format::Deviation& deviation : in.package.facts.deviations.view()) {
    lines.pair("deviation", fmt::format("{}: {}", deviation.number.view(), deviation.rule.view()));
    char until[utc_length];
    (void)spell_utc(deviation.expires, until);
    lines.put(fmt::format("    {} boards at most, not after {}:", deviation.boards,
                          std::string_view(until, 10)));
    lines.wrapped(deviation.reason.view());
  }
}

// The order of work of the package, as it was reviewed.
void put_order_of_work(Lines& lines, const SheetInput& in) {
  lines.put("ORDER OF WORK on each board");
  for (const format::WorkStep& step : in.package.facts.work_steps.view()) {
    lines.put(fmt::format("  {:>2}. {}", step.index, step_words(step)));
  }
}

// Where a job stands among those of its card.
struct Place {
  std::size_t number = 1;
  std::size_t of = 1;
};

bool is_logged(const SheetInput& in) {
  return in.station.reads == format::StationReads::signed_package;
}

void put_signed_steps(Lines& lines, const SheetInput& in, const Place& place) {
  lines.put("STEPS");
  lines.put("  1. Compare station name and card number with this sheet.");
  if (is_logged(in)) {
    lines.put("  2. Insert the card, its write-protect tab off: the station writes its log there,");
    lines.put("     and takes no unit before. It checks every signature by itself.");
  } else {
    lines.put("  2. Insert the card, its write-protect tab on: the station writes nothing on it.");
    lines.put("     It checks every signature by itself. Two people count the boards, see below.");
  }
  if (place.of > 1) {
    lines.put(fmt::format(
        "  3. The station offers {} jobs. Choose number {}. The display must show:", place.of,
        place.number));
    lines.put(fmt::format("     {}", in.package.manifest.title.view()));
  } else {
    lines.put(fmt::format("  3. The display must show: {}", in.package.manifest.title.view()));
  }
  lines.put("     If it refuses, it shows a number and a word. Do not try another");
  lines.put("     station. Write both down and call the person below.");
  lines.put(fmt::format("  4. A meter at an empty slot must read {}.", meter_reading(in)));
  lines.put("     If it reads anything else, stop and call.");
  if (in.order.numbers != format::Numbers::fresh) {
    lines.put(in.order.numbers == format::Numbers::kept
                  ? "     Before it erases a board the station reads its number."
                  : "     Before each board: scan or key in the number on its label.");
    lines.put("     A board that it turns away is not on the list above: set it aside, and call.");
  }
  lines.put(place.of > 1
                ? "  5. Work. When all jobs of the card are used up, hand it back with its sheets."
                : "  5. Work. When the card is used up, hand it back with this sheet.");
}

void put_checksum(Lines& lines, const format::PlainFileFacts& plain) {
  if (plain.shown_checksum.view() == "none") {
    lines.check("checksum shown", "none: there is no checksum to compare with");
    return;
  }
  lines.check("checksum shown", checksum_digits(plain.shown_checksum.view(), plain.shown_value));
  lines.put(fmt::format("  (checksum as {}; if another value is shown, stop and call)",
                        plain.shown_checksum.view()));
}

void put_plain_settings(Lines& lines, const SheetInput& in) {
  const format::Manifest& m = in.package.manifest;
  const format::PlainFileFacts& plain = *in.plain;
  lines.put("THIS STATION CHECKS NOTHING BY ITSELF");
  lines.put("  It reads the plain firmware file on this card and believes it. Every setting");
  lines.put("  below is keyed in by hand; a second person checks each one.");
  lines.put("");
  lines.put("TO KEY IN                                                       set  checked");
  lines.check("this station and card", "as named above");
  lines.check("write-protect tab", "on; off where the station writes");
  if (is_for_each_unit(plain)) {
    lines.check("file", "another one for each board: see below");
  } else {
    lines.check("file", plain.path.view());
  }
  lines.check("device", m.device.view());
  if (m.device_id.present) {
    const format::DeviceId& id = m.device_id.value;
    lines.check("device ID to expect", crypto::hex({id.value.data(), id.size}));
  }
  lines.check("boards", by_station(m) ? "nothing else feeds them" : "own supply on");
  lines.check("supply voltage", by_station(m) ? volts(m.supply_mv) : "OFF (the board brings it)");
  lines.check("meter at empty slot", meter_reading(in));
  lines.check("slots on", slot_words(in.enabled_slots, in.station.slots));
  lines.check("erase first", m.erase == format::Erase::chip ? "yes, whole chip" : "no");
  lines.check("blank check", format::is_yes(m.blank_check) ? "yes" : "no");
  lines.check("verify", verify_text(m));
  lines.check("lock", format::lock_words[static_cast<std::size_t>(m.lock)]);
  if (m.stop_after != 0) {
    lines.check("stop a slot after", fmt::format("{} failures in a row", m.stop_after));
  }
  put_checksum(lines, plain);
}

void put_crc_parameters(Lines& lines, std::string_view name) {
  if (CrcModel model{}; parse_crc(name, model)) {
    lines.put(fmt::format("  ({}: width {}, poly {:X}, init {:X}, reflected {}, xorout {:X})",
                          model.name, model.width, model.poly, model.init,
                          model.reflected ? "yes" : "no", model.xorout));
  }
}

// How the serial stands there, with the number that the first unit gets when it is in binary.
std::string placed_as(const format::Placement& placement, const format::Manifest& m,
                      std::uint64_t ordinal) {
  if (placement.encoding == format::Encoding::ascii) {
    return "text";
  }
  const std::string_view encoding =
      format::encoding_words[static_cast<std::size_t>(placement.encoding)];
  std::uint64_t number = 0;
  if (!format::is_binary(placement.encoding) ||
      !unit::number_of(unit::serials_of(m), ordinal, number).ok()) {
    return std::string(encoding);
  }
  return fmt::format("{} from {}", encoding, number);
}

// Which file is whose: with a box for each, since a file that goes on a second board makes two of
// one number, and the station does not notice.
Try<void> put_unit_files(Lines& lines, const SheetInput& in) {
  lines.check("serial numbers", "in the files: the station counts nothing");
  lines.put("");
  lines.put(
      "A FILE FOR EACH BOARD, in this order. Load it, work ONE board, tick it, and never load it");
  lines.put(
      "again, whatever became of the board. A file used twice makes two boards of one number.");
  lines.put("  file                  serial                                  loaded  good");
  for (std::uint64_t i = 0; i < in.order.units; ++i) {
    Try<std::string> text = unit_text(in, i);
    if (!text) {
      return Unexpected(std::move(text).error());
    }
    lines.check(unit_path(*in.plain, in.order.first + i), *text);
  }
  lines.put("  These numbers count as given out from now on, used or not.");
  return {};
}

Try<void> put_plain_serials(Lines& lines, const SheetInput& in) {
  const format::Manifest& m = in.package.manifest;
  lines.check("units", fmt::format("{}: then stop", in.order.units));
  if (!m.scheme.present) {
    return {};
  }
  Try<std::string> first = unit_text(in, 0);
  Try<std::string> last = unit_text(in, in.order.units - 1);
  if (!first || !last) {
    return Unexpected(!first ? std::move(first).error() : std::move(last).error());
  }
  if (is_for_each_unit(*in.plain)) {
    return put_unit_files(lines, in);
  }
  const format::Scheme& scheme = m.scheme.value;
  lines.check("first serial", *first);
  lines.check("count up by", fmt::format("{}", scheme.step));
  lines.check("last serial", *last + ": stop there");
  for (const format::Placement& p : m.placements.view()) {
    lines.check("serial at", fmt::format("{} 0x{:X}, {} bytes, {}", p.region.view(), p.address,
                                         p.length, placed_as(p, m, in.order.first)));
    if (p.second_byte.present) { // half of the bytes, which a station does not make by itself
      lines.check("after each byte of it", fmt::format("{:02X}", p.second_byte.value));
    }
  }
  lines.put("  These numbers count as given out from now on, used or not.");
  return {};
}

void put_tally(Lines& lines, bool serials, bool by_loader) {
  lines.put("HAND TALLY (return with the card)");
  lines.put("  boards issued ______  good ______  scrap ______");
  if (by_loader) { // it takes units before the first byte goes to a board
    lines.put("  units taken, by the station: before ______  after ______");
    lines.put("  set aside ______  initials ______ / ______");
    lines.put("  When the station lost power in a cycle, set the boards of that cycle aside and");
    lines.put("  count them neither as good nor as scrap. Start no cycle with an empty slot.");
  } else {
    lines.put("  counter before ______  after ______   initials ______ / ______");
  }
  if (serials) {
    lines.put("  serials of all scrapped boards: ________________________________________");
    lines.put("  ____________________________________________________________________________");
  }
}

std::string file_words(const SheetInput& in) {
  if (!is_for_each_unit(*in.plain)) {
    return std::string(in.plain->path.view());
  }
  return fmt::format("{} to {}", unit_path(*in.plain, in.order.first),
                     unit_path(*in.plain, in.order.first + in.order.units - 1));
}

// Which sheet is whose, before the first of them.
void put_contents(Lines& lines, const std::vector<SheetInput>& jobs) {
  lines.put(
      fmt::format("THIS CARD CARRIES THE WORK OF {} PACKAGES. Each has a sheet of its own below.",
                  jobs.size()));
  lines.put("Supply, slots and numbers differ: set up and check anew for each.");
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    const format::Manifest& m = jobs[i].package.manifest;
    lines.put(fmt::format("  {}. {}: {} units, supply {}{}", i + 1, m.title.view(),
                          jobs[i].order.units, volts(m.supply_mv),
                          jobs[i].plain != nullptr ? fmt::format(", file {}", file_words(jobs[i]))
                                                   : std::string()));
  }
  lines.put("");
}

Try<void> put_how(Lines& lines, const SheetInput& in, const Place& place) {
  if (in.plain == nullptr) {
    put_signed_steps(lines, in, place);
    if (!is_logged(in)) {
      lines.put("");
      put_tally(lines, in.package.manifest.scheme.present, true);
    }
    return {};
  }
  put_plain_settings(lines, in);
  put_crc_parameters(lines, in.plain->shown_checksum.view());
  if (Try<void> serials = put_plain_serials(lines, in); !serials) {
    return serials;
  }
  lines.put("");
  put_tally(lines, in.package.manifest.scheme.present, false);
  return {};
}

Try<void> put_sheet(Lines& lines, const SheetInput& in, const Place& place) {
  const format::Manifest& m = in.package.manifest;
  lines.put(place.of > 1
                ? fmt::format("SET-UP SHEET {} OF {}: {}", place.number, place.of, m.title.view())
                : std::string("SET-UP SHEET"));
  lines.put("");
  put_card(lines, in);
  put_release(lines, in);
  put_approvals(lines, in);
  if (Try<void> numbers = put_numbers(lines, in); !numbers) {
    return numbers;
  }
  lines.pair("slots on", slot_words(in.enabled_slots, in.station.slots));
  put_panel(lines, in);
  lines.pair("supply", fmt::format("{}, {}", volts(m.supply_mv), supply_words(m)));
  lines.pair("verify", verify_text(m));
  put_deviations(lines, in);
  lines.put("");
  if (Try<void> how = put_how(lines, in, place); !how) {
    return how;
  }
  lines.put("");
  put_order_of_work(lines, in);
  lines.put("");
  lines.put(cautions({in}));
  lines.put("Call: ______________________   Set up by: __________   Checked by: __________");
  if (place.number < place.of) {
    lines.put("");
    lines.put(std::string(76, '='));
    lines.put("");
  }
  return {};
}

std::string with_crlf(const std::string& text) {
  std::string out;
  for (const char c : text) {
    out += c == '\n' ? std::string("\r\n") : std::string(1, c);
  }
  return out;
}

} // namespace

std::string checksum_digits(std::string_view name, std::uint32_t value) {
  CrcModel model{};
  const unsigned width = parse_crc(name, model) ? model.width / 4 : name == "byte-sum-32" ? 8 : 4;
  return fmt::format("{:0{}X}", value, width);
}

std::string slot_words(std::uint32_t enabled, std::uint32_t of) {
  std::string on;
  std::string off;
  for (std::uint32_t slot = 0; slot < 32; ++slot) {
    std::string& list = ((enabled >> slot) & 1U) != 0 ? on : off;
    if ((((enabled | of) >> slot) & 1U) != 0) {
      list += fmt::format("{}{}", list.empty() ? "" : ", ", slot + 1);
    }
  }
  return off.empty() ? on : on + "; OFF: " + off;
}

std::string volts(std::uint32_t millivolts) {
  return fmt::format("{}.{:03} V", millivolts / 1000, millivolts % 1000);
}

std::string thousandths(std::uint64_t value) {
  std::string out = fmt::format("{}.{:03}", value / 1000, value % 1000);
  out.erase(out.find_last_not_of('0') + 1);
  return out.back() == '.' ? out.substr(0, out.size() - 1) : out;
}

Try<std::string> setup_sheet(const std::vector<SheetInput>& jobs) {
  Lines lines;
  if (jobs.size() > 1) {
    put_contents(lines, jobs);
  }
  Try<void> put;
  for (std::size_t i = 0; put && i < jobs.size(); ++i) {
    put = put_sheet(lines, jobs[i], {i + 1, jobs.size()});
  }
  if (!put) {
    return Unexpected(std::move(put).error());
  }
  return with_crlf(lines.take());
}

std::string readme(const std::vector<SheetInput>& jobs) {
  const SheetInput& first = jobs.front();
  Lines lines;
  if (is_engineering(first)) {
    lines.put("This card carries firmware for one programming station, for engineering alone:");
    lines.put("NOTHING MADE WITH IT SHIPS. If you found it, hand it to the person in charge.");
  } else {
    lines.put("This card carries firmware for one programming station. It is part of a");
    lines.put("shipment; if you found it, hand it to the person in charge of the line.");
  }
  lines.put("");
  put_card(lines, first);
  for (const SheetInput& in : jobs) {
    if (jobs.size() > 1) {
      lines.put("");
    }
    put_release(lines, in);
  }
  lines.put("");
  lines.put("Do not change, add or rename files. A changed file makes a station refuse the card,");
  lines.put("unless it is one that checks nothing; a file that was added may go unnoticed. Take");
  lines.put("instructions from SETUP.TXT only, and compare it with the printed sheet.");
  lines.put("The firmware on this card is not encrypted: treat a lost card as disclosed.");
  lines.put("");
  lines.put(cautions(jobs));
  return with_crlf(lines.take());
}

std::string step_words(const format::WorkStep& step) {
  std::string out(step.name.view());
  if (out == "foreign voltage check") {
    out += ": with a meter where the station senses none";
  }
  return out;
}

} // namespace cardseal::card
