#include <algorithm>

#include "job/checks.h"
#include "job/config_words.h"
#include "job/facts_sums.h"
#include "job/facts_supply.h"
#include "job/put.h"
#include "job/rules.h"
#include "job/sealed_texts.h"

namespace cardseal::job {
namespace {

format::PlainFileFacts plain_of(const ReleaseFile& release, const Inputs& in,
                                const profile::Station& station, bool sums) {
  const profile::PlainFile& file = *station.plain_file;
  format::PlainFileFacts out;
  out.model = put<format::Id>(station.id);
  out.path = put<format::CardPath>(file.folder.empty() ? file.name : file.folder + "/" + file.name);
  if (file.format == profile::PlainFormat::raw) {
    out.form = format::PlainForm::raw;
  } else {
    out.form = format::PlainForm::intel_hex;
    out.record_length = static_cast<std::uint8_t>(file.record_length);
    out.line_end =
        file.line_end == profile::LineEnd::lf ? format::LineEnd::lf : format::LineEnd::crlf;
  }
  out.shown_checksum.set("none");
  if (sums) {
    put_shown_checksum(release, in, file, out);
  }
  return out;
}

format::StationReads reads_of(profile::Reads reads) {
  switch (reads) {
  case profile::Reads::plain_file:
    return format::StationReads::plain_file;
  case profile::Reads::signed_no_log:
    return format::StationReads::signed_no_log;
  case profile::Reads::signed_package:
    break;
  }
  return format::StationReads::signed_package;
}

format::StationFacts station_of(const profile::Station& station) {
  format::StationFacts out;
  out.model = put<format::Id>(station.id);
  out.reads = reads_of(station.reads);
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
  case Severity::waived:
    return format::Level::waived;
  case Severity::refuse:
    return format::Level::refuse;
  }
  return format::Level::refuse;
}

void put_findings(const Findings& findings, format::Facts& out) {
  std::size_t counted = 0;
  for (const Severity severity :
       {Severity::refuse, Severity::waived, Severity::warn, Severity::note}) {
    counted += findings.count(severity);
    for (const Finding& finding : findings.kept()) {
      if (findings.severity_of(*finding.rule) != severity) {
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

void put_deviations(const ReleaseFile& release, format::Facts& out) {
  for (const Deviation& deviation : release.deviations) {
    out.deviations.add({put<format::Text<24>>(deviation.number),
                        put<format::Text<32>>(deviation.rule), deviation.boards, deviation.expires,
                        put<format::Text<96>>(deviation.reason)});
  }
}

void put_panel(const profile::Board& board, format::Facts& out) {
  for (const profile::PanelPlace& place : board.panel) {
    out.panel.add({static_cast<std::uint8_t>(place.slot), put<format::Text<8>>(place.position)});
  }
}

void put_firmware(const ReleaseFile& release, const image::Loaded& firmware, format::Facts& out) {
  out.firmware_name = put<format::Text<64>>(
      sealable(file_name(release.firmware.file), out.firmware_name.bytes.size()));
  out.firmware_size = static_cast<std::uint32_t>(firmware.file_size); // a file has at most 1 GiB
  out.firmware_digest = firmware.file_digest;
  out.firmware_format = release.firmware.format;
}

void put_configuration(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  out.configuration = release.device.configuration;
  std::vector<format::ConfigFact> fields;
  for (const ConfigState& state : config_states(release, in)) {
    for (const profile::ConfigField& field : state.word->fields) {
      const profile::ConfigValue* value = state.value ? field.value_of(*state.value) : nullptr;
      format::ConfigFact fact;
      fact.field = put<format::Id>(field.id);
      fact.bits = state.value.value_or(0) & field.mask;
      fact.meaning = put<format::Text<64>>(!state.value       ? "not known"
                                           : value == nullptr ? "without a name"
                                                              : value->meaning);
      fields.push_back(fact);
    }
  }
  std::sort(fields.begin(), fields.end(),
            [](const auto& a, const auto& b) { return a.field.view() < b.field.view(); });
  for (const format::ConfigFact& fact : fields) {
    out.config_fields.add(fact);
  }
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
  put_configuration(release, in, out);
  out.supply = {in.device.supply.operating_min_mv, in.device.supply.operating_max_mv,
                in.device.supply.absolute_max_mv, in.board.supply.min_mv, in.board.supply.max_mv};
  for (const profile::Station* station : by_model(in.stations)) {
    out.stations.add(station_of(*station));
    if (station->plain_file) {
      out.plain_files.add(plain_of(release, in, *station, sums));
    }
  }
  put_supply_calculation(release, in, out);
  put_work_steps(release, in, out);
  put_panel(in.board, out);
  put_cycles(release, in, out);
  put_deviations(release, out);
  put_findings(findings, out);
  out.tool = put<format::Name>(tool);
  return out;
}

} // namespace cardseal::job
