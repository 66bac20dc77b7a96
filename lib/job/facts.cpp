#include <algorithm>

#include "base/crc.h"
#include "image/checksums.h"
#include "image/range.h"
#include "job/checks.h"
#include "job/put.h"
#include "job/rules.h"
#include "job/sealed_texts.h"

namespace cardseal::job {
namespace {

using Sum = std::optional<std::uint32_t>;

Sum sum_of(const image::SparseImage& image, std::string_view name, const image::SumRange& over) {
  if (const CrcModel* model = find_crc(name)) {
    const Try<std::uint32_t> value = image::image_crc(image, *model, over);
    return value ? Sum(*value) : std::nullopt;
  }
  if (name == "byte-sum-16") {
    const Try<std::uint16_t> value = image::byte_sum_16(image, over);
    return value ? Sum(*value) : std::nullopt;
  }
  const Try<std::uint32_t> value = image::byte_sum_32(image, over);
  return value ? Sum(*value) : std::nullopt;
}

std::uint8_t erased_code(const profile::Device& device) {
  for (const profile::Region& region : device.regions) {
    if (region.kind == profile::RegionKind::code) {
      return region.erased;
    }
  }
  return 0xFF;
}

void put_checksums(const Inputs& in, format::Facts& out) {
  const std::uint8_t fill = erased_code(in.device);
  for (const std::string_view name :
       {"CRC-16/IBM-3740", "CRC-32/ISO-HDLC", "byte-sum-16", "byte-sum-32"}) { // as sealed: by byte
    if (const Sum value = sum_of(in.firmware.firmware.image, name, {std::nullopt, fill})) {
      out.checksums.add({put<format::Text<32>>(name), *value, fill});
    }
  }
}

// From the first to the last address of the device's code.
image::Segment code_span(const profile::Device& device) {
  std::uint64_t from = std::uint64_t{1} << 32;
  std::uint64_t end = 0;
  for (const profile::Region& region : device.regions) {
    if (region.kind == profile::RegionKind::code) {
      from = std::min<std::uint64_t>(from, region.address);
      end = std::max(end, region.end());
    }
  }
  return {from, end - from};
}

void put_shown_checksum(const Inputs& in, const profile::PlainFile& file, bool sums,
                        format::PlainFileFacts& out) {
  out.shown_checksum.set("none");
  if (!file.checksum) {
    return;
  }
  const profile::ShownChecksum& shown = *file.checksum;
  image::SumRange over{std::nullopt, shown.fill};
  if (shown.over == profile::SumRange::code_region) {
    over.range = code_span(in.device);
  }
  out.shown_checksum = put<format::Text<32>>(shown.algorithm);
  const Sum value = sums ? sum_of(in.firmware.firmware.image, shown.algorithm, over) : std::nullopt;
  const std::uint64_t digits = (std::uint64_t{1} << (4 * shown.digits)) - 1;
  out.shown_value = static_cast<std::uint32_t>(value.value_or(0) & digits);
}

format::PlainFileFacts plain_of(const Inputs& in, const profile::Station& station, bool sums) {
  const profile::PlainFile& file = *station.plain_file;
  format::PlainFileFacts out;
  out.model = put<format::Id>(station.id);
  out.path = put<format::CardPath>(file.folder.empty() ? file.name : file.folder + "/" + file.name);
  if (file.format == profile::PlainFormat::raw) {
    out.form = format::FirmwareFormat::raw;
  } else {
    out.form = format::FirmwareFormat::intel_hex;
    out.record_length = static_cast<std::uint8_t>(file.record_length);
    out.line_end =
        file.line_end == profile::LineEnd::lf ? format::LineEnd::lf : format::LineEnd::crlf;
  }
  put_shown_checksum(in, file, sums, out);
  return out;
}

format::StationFacts station_of(const profile::Station& station) {
  format::StationFacts out;
  out.model = put<format::Id>(station.id);
  out.reads = station.reads == profile::Reads::plain_file ? format::StationReads::plain_file
                                                          : format::StationReads::signed_package;
  out.slots = static_cast<std::uint32_t>((std::uint64_t{1} << station.slots) - 1);
  out.supply_low_mv = station.supply.min_mv;
  out.supply_high_mv = station.supply.max_mv;
  out.supply_step_mv = station.supply.step_mv;
  out.partition = station.card.mbr ? format::Partition::type_0c : format::Partition::none;
  out.cluster_sectors = static_cast<std::uint8_t>(station.card.cluster_sectors);
  out.max_sectors = station.card.max_sectors;
  out.volume_label = put<format::Text<11>>(station.card.label);
  return out;
}

format::Level level_of(Severity severity) {
  switch (severity) {
  case Severity::note:
    return format::Level::note;
  case Severity::warn:
    return format::Level::warn;
  case Severity::refuse:
    return format::Level::refuse;
  }
  return format::Level::refuse;
}

void put_findings(const Findings& findings, format::Facts& out) {
  std::size_t counted = 0;
  for (const Severity severity : {Severity::refuse, Severity::warn, Severity::note}) {
    counted += findings.count(severity);
    for (const Finding& finding : findings.kept()) {
      if (finding.rule->severity != severity) {
        continue;
      }
      format::FindingFacts sealed;
      sealed.index = static_cast<std::uint8_t>(out.findings.count + 1);
      sealed.level = level_of(severity);
      sealed.rule = put<format::Text<32>>(finding.rule->id);
      sealed.text = put<format::Text<192>>(sealable(finding.text, sealed.text.bytes.size()));
      out.findings.add(sealed); // none after the hundredth
    }
  }
  out.findings_counted = static_cast<std::uint32_t>(std::min<std::size_t>(counted, 999'999));
}

void put_firmware(const ReleaseFile& release, const image::Loaded& firmware, format::Facts& out) {
  out.firmware_name = put<format::Text<64>>(
      sealable(file_name(release.firmware.file), out.firmware_name.bytes.size()));
  out.firmware_size = static_cast<std::uint32_t>(firmware.file_size); // a file has at most 1 GiB
  out.firmware_digest = firmware.file_digest;
  out.firmware_format = release.firmware.format == FirmwareFormat::raw
                            ? format::FirmwareFormat::raw
                            : format::FirmwareFormat::intel_hex;
}

} // namespace

format::Facts facts_of(const ReleaseFile& release, const Inputs& in, const format::Digest& owner,
                       const Findings& findings, std::string_view tool) {
  // Between far-apart addresses a sum would take its time for nothing.
  const bool sums =
      findings.count(rules::firmware_no_data) == 0 && findings.count(rules::firmware_outside) == 0;
  format::Facts out;
  out.owner = owner;
  out.product = put<format::Id>(release.product);
  out.release = put<format::Name>(release.version);
  put_firmware(release, in.firmware, out);
  if (sums) {
    put_checksums(in, out);
  }
  out.supply = {in.device.supply.operating_min_mv, in.device.supply.operating_max_mv,
                in.device.supply.absolute_max_mv, in.board.supply.min_mv, in.board.supply.max_mv};
  for (const profile::Station* station : by_model(in.stations)) {
    out.stations.add(station_of(*station));
    if (station->plain_file) {
      out.plain_files.add(plain_of(in, *station, sums));
    }
  }
  put_findings(findings, out);
  out.tool = put<format::Name>(tool);
  return out;
}

} // namespace cardseal::job
