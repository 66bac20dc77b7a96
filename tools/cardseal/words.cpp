#include "words.h"

#include <fmt/format.h>

#include "calculation.h"
#include "card/sheet.h"
#include "card/unit_words.h"
#include "common.h"
#include "crypto/sha256.h"

namespace cardseal::tool {
namespace {

class Page {
public:
  void head(std::string_view text) { out_ += fmt::format("{}\n", text); }
  void pair(std::string_view name, std::string_view value) {
    out_ += fmt::format("  {:<18}{}\n", name, escaped(value));
  }
  void text(std::string_view lines) { out_ += lines; }
  std::string take() { return std::move(out_); }

private:
  std::string out_;
};

template <class E, std::size_t N>
std::string_view word(E value, const std::array<std::string_view, N>& words) {
  return words[static_cast<std::size_t>(value)];
}

std::string digest_or_none(const format::Maybe<format::Digest>& digest) {
  return digest.present ? crypto::spell_digest(digest.value) : "none";
}

void put_identity(Page& page, const package::Package& package) {
  const format::Manifest& m = package.manifest;
  page.head("release");
  page.pair("package", crypto::spell_digest(package.manifest_digest));
  page.pair("owner", crypto::spell_digest(m.owner));
  page.pair("product", m.product.view());
  page.pair("release", m.release.view());
  page.pair("title on display", m.title.view());
  page.pair("epoch, sequence", fmt::format("{}, {}", m.epoch, m.sequence));
  page.pair("previous package", digest_or_none(m.previous));
  std::string id = "not checked";
  if (m.device_id.present) {
    const format::DeviceId& d = m.device_id.value;
    id = fmt::format("{} mask {}", crypto::hex({d.value.data(), d.size}),
                     crypto::hex({d.mask.data(), d.size}));
  }
  page.pair("device", fmt::format("{}, device ID {}", m.device.view(), id));
  page.pair("board", fmt::format("{} revision {}", m.board.view(), m.board_revision));
  for (const format::Id& model : m.station_models.view()) {
    page.pair("station model", model.view());
  }
}

void put_settings(Page& page, const format::Manifest& m) {
  page.head("settings");
  page.pair("slots permitted", card::slot_words(m.slots, m.slots));
  page.pair("supply", fmt::format("{}, {}", card::volts(m.supply_mv),
                                  m.supply_source == format::SupplySource::station
                                      ? "made by the station"
                                      : "brought by the board; station supply off"));
  page.pair("erase", word(m.erase, format::erase_words));
  page.pair("blank check", yes_no(format::is_yes(m.blank_check)));
  const format::VerifyLimits& limits = m.verify_limits.value;
  page.pair("verify", std::string(word(m.verify, format::verify_words)) +
                          (m.verify_limits.present
                               ? fmt::format(", at {} and at {}", card::volts(limits.low_mv),
                                             card::volts(limits.high_mv))
                               : std::string()));
  page.pair("lock", word(m.lock, format::lock_words));
  for (const format::KeptRange& kept : m.kept.view()) {
    page.pair("kept",
              fmt::format("{} 0x{:08X}, {} bytes", kept.region.view(), kept.address, kept.length));
  }
  page.pair("stop a slot", m.stop_after == 0
                               ? std::string("never")
                               : fmt::format("after {} failures in a row", m.stop_after));
  page.pair("plain file", m.plain_file == format::YesNo::yes
                              ? "allowed, once quality signs it: such a station checks nothing"
                              : "no");
}

std::string part_words(const format::Part& part, const format::Maybe<format::Alphabet>& alphabet) {
  switch (part.kind) {
  case format::PartKind::literal:
    return fmt::format("literal \"{}\"", part.literal.value.view());
  case format::PartKind::number:
    return fmt::format("number, base {}, {} digits{}", part.base.value, part.width.value,
                       alphabet.present ? fmt::format(" of \"{}\"", alphabet.value.view()) : "");
  case format::PartKind::date_code:
    return fmt::format("date code of the allotment, {} characters", part.width.value);
  case format::PartKind::work_class:
    return fmt::format("class of work: one of \"{}\"", part.literal.value.view());
  case format::PartKind::check:
    return fmt::format("check {} over part {} to {}",
                       word(part.check.value.kind, format::check_kind_words), part.check.value.from,
                       part.index - 1);
  }
  return {};
}

std::string placed_words(const format::Placement& p, const format::Maybe<format::SerialCrc>& crc) {
  std::string out(word(p.encoding, format::encoding_words));
  if (p.parts.present) {
    out += fmt::format(" of part {} to {}", p.parts.value.first, p.parts.value.last);
  }
  if (p.padding.present) {
    out += fmt::format(", {:02X} behind", p.padding.value);
  }
  if (format::is_yes(p.crc)) {
    out += fmt::format(", {} {}", crc.value.model.view(),
                       word(crc.value.order, format::byte_order_words));
  }
  if (p.second_byte.present) {
    out += fmt::format(", each followed by {:02X}", p.second_byte.value);
  }
  return out;
}

void put_serials(Page& page, const format::Manifest& m) {
  page.head("serial numbers");
  if (!m.scheme.present) {
    return page.pair("scheme", "none");
  }
  const format::Scheme& s = m.scheme.value;
  page.pair("scheme", fmt::format("{}: number {} + {} x ordinal, {} units", s.id.view(), s.first,
                                  s.step, s.capacity));
  for (const format::ExcludedRange& range : m.excluded.view()) {
    page.pair("left out", fmt::format("numbers {} to {}", range.first, range.last));
  }
  for (const format::Part& part : m.parts.view()) {
    page.pair(fmt::format("part {}", part.index), part_words(part, m.alphabet));
  }
  for (const std::uint64_t ordinal : {std::uint64_t{0}, s.capacity - 1}) {
    if (const Try<std::string> text = card::unit_words(m, ordinal)) {
      page.pair(ordinal == 0 ? "first" : "last", *text);
    }
  }
  for (const format::Placement& p : m.placements.view()) {
    page.pair("placed", fmt::format("{} 0x{:08X}, {} bytes, {}, {} before", p.region.view(),
                                    p.address, p.length, placed_words(p, m.serial_crc),
                                    word(p.before, format::before_words)));
  }
}

void put_firmware(Page& page, const package::Package& package) {
  const format::Manifest& m = package.manifest;
  const format::Facts& f = package.facts;
  page.head("firmware");
  page.pair("file", fmt::format("{}, {} bytes", f.firmware_name.view(), f.firmware_size));
  page.pair("file digest", crypto::spell_digest(f.firmware_digest));
  for (const format::Segment& segment : m.segments.view()) {
    page.pair("segment", fmt::format("0x{:08X} to 0x{:08X}, {} bytes", segment.address,
                                     segment.address + (segment.length - 1), segment.length));
  }
  page.pair("image bytes",
            fmt::format("{} bytes, {}", m.image_size, crypto::spell_digest(m.image_digest)));
  for (const format::Checksum& c : f.checksums.view()) {
    page.pair("checksum", fmt::format("{}  {} over {}, gaps as {:02X}",
                                      card::checksum_digits(c.name.view(), c.value), c.name.view(),
                                      c.over.view(), c.fill));
  }
  page.pair("configuration", word(f.configuration, format::configuration_words));
  for (const format::ConfigFact& field : f.config_fields.view()) {
    page.pair("  " + std::string(field.field.view()),
              fmt::format("{} (bits {:X})", field.meaning.view(), field.bits));
  }
  for (const format::SealedFile& file : m.files.view()) {
    page.pair("document", fmt::format("{}, {} bytes, {}", file.name.view(), file.size,
                                      crypto::spell_digest(file.digest)));
  }
}

void put_supply(Page& page, const format::Facts& f) {
  page.head("supply limits it was checked against");
  page.pair("device", fmt::format("{} to {}, absolute maximum {}", card::volts(f.supply.device_low),
                                  card::volts(f.supply.device_high),
                                  card::volts(f.supply.device_absolute_max)));
  page.pair("board", fmt::format("{} to {}", card::volts(f.supply.board_low),
                                 card::volts(f.supply.board_high)));
  for (const format::StationFacts& s : f.stations.view()) {
    page.pair("station", fmt::format("{}: {} to {} in steps of {}, {}", s.model.view(),
                                     card::volts(s.supply_low_mv), card::volts(s.supply_high_mv),
                                     card::volts(s.supply_step_mv),
                                     word(s.reads, format::station_reads_words)));
  }
  for (const format::PlainFileFacts& p : f.plain_files.view()) {
    page.pair("plain file",
              fmt::format("{}: {} as {}, shows {} ({})", p.model.view(), p.path.view(),
                          word(p.form, format::plain_form_words),
                          card::checksum_digits(p.shown_checksum.view(), p.shown_value),
                          p.shown_checksum.view()));
  }
}

void put_deviations(Page& page, const format::Facts& f) {
  if (f.deviations.count == 0) {
    return;
  }
  page.head("deviations: what would refuse, and is set aside");
  for (const format::Deviation& d : f.deviations.view()) {
    page.pair(std::string(d.number.view()),
              fmt::format("{}: {} boards at most, until {}: {}", d.rule.view(), d.boards,
                          words(d.expires), d.reason.view()));
  }
}

void put_findings(Page& page, const format::Facts& f) {
  page.head(fmt::format("findings  ({})", f.findings_counted));
  for (const format::FindingFacts& finding : f.findings.view()) {
    page.pair(word(finding.level, format::level_words),
              fmt::format("{} [{}]", finding.text.view(), finding.rule.view()));
  }
}

} // namespace

std::string release_name(const format::Manifest& manifest) {
  return fmt::format("{} {}", manifest.product.view(), manifest.release.view());
}

std::string describe(const package::Package& package) {
  Page page;
  put_identity(page, package);
  put_deviations(page, package.facts);
  put_settings(page, package.manifest);
  put_serials(page, package.manifest);
  put_firmware(page, package);
  put_supply(page, package.facts);
  page.text(describe_calculation(package.facts, Formulas::shown));
  put_findings(page, package.facts);
  return page.take();
}

std::string limit_words(const format::Signoff& s) {
  const std::string numbers =
      s.numbers.present ? fmt::format("{} to {}", s.numbers.value.first, s.numbers.value.last)
                        : std::string("any");
  return fmt::format("{} units a station, {} stations, ordinals {}, plain file {}",
                     s.units_a_station.present ? std::to_string(s.units_a_station.value)
                                               : std::string("any"),
                     s.stations.present ? std::to_string(s.stations.value) : std::string("any"),
                     numbers, word(s.plain_file, format::yes_no_words));
}

std::string describe_signoffs(const package::Package& package) {
  Page page;
  page.head(fmt::format("sign-offs  ({})", package.signoffs.size()));
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    page.pair(word(s.role, format::role_words), fmt::format("{}, {} (claimed): {}", s.person.view(),
                                                            words(s.time), s.meaning.view()));
    page.pair("", fmt::format("reason: {}", s.reason.view()));
    page.pair("", fmt::format("key {}", crypto::hex(s.key)));
    page.pair("", fmt::format("digest {}", crypto::spell_digest(entry.digest)));
    page.pair("", "limits: " + limit_words(s));
  }
  return page.take();
}

} // namespace cardseal::tool
