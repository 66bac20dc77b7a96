#include "view/json.h"

#include <fmt/format.h>

#include "base/number.h"
#include "crypto/sha256.h"
#include "view/json_text.h"
#include "view/station_verdict.h"
#include "view/verdict_json.h"

namespace cardseal::view {
namespace {

std::string time_text(const Utc& time) {
  char out[utc_length];
  return {out, spell_utc(time, out)};
}

template <class E, std::size_t N>
std::string word(E value, const std::array<std::string_view, N>& words) {
  return std::string(words[static_cast<std::size_t>(value)]);
}

Json maybe_digest(const format::Maybe<format::Digest>& digest) {
  return digest.present ? Json(crypto::spell_digest(digest.value)) : Json(nullptr);
}

Json persons_json(const format::List<format::Person, 16>& persons) {
  Json list = Json::array();
  for (const format::Person& person : persons.view()) {
    list.push_back(
        {{"id", std::string(person.id.view())}, {"name", std::string(person.name.view())}});
  }
  return list;
}

Json error_json(const Error& error) {
  return {{"code", error.code},       {"what", error.what},           {"file", error.place.file},
          {"line", error.place.line}, {"column", error.place.column}, {"item", error.place.item},
          {"found", error.found},     {"expected", error.expected},   {"hint", error.hint}};
}

Json findings_json(const Findings& findings) {
  Json list = Json::array();
  for (const Finding& finding : findings.kept()) {
    list.push_back({{"rule", std::string(finding.rule->id)},
                    {"level", std::string(word_of(findings.severity_of(*finding.rule)))},
                    {"waivable", finding.rule->waivable},
                    {"text", finding.text},
                    {"file", finding.place.file},
                    {"line", finding.place.line},
                    {"hint", finding.hint}});
  }
  return list;
}

Json segments_json(const std::vector<image::Segment>& segments) {
  Json list = Json::array();
  for (const image::Segment& segment : segments) {
    list.push_back({{"address", segment.address}, {"length", segment.length}});
  }
  return list;
}

Json file_json(const image::Loaded& loaded) {
  const image::Firmware& firmware = loaded.firmware;
  Json out = {{"file", loaded.file},
              {"format", std::string(image::word_of(loaded.format))},
              {"file_size", loaded.file_size},
              {"file_sha256", crypto::hex(loaded.file_digest)}};
  if (firmware.elf_mode) {
    out["elf_by"] = std::string(image::word_of(*firmware.elf_mode));
  }
  out["start"] = nullptr;
  if (firmware.start) {
    out["start"] = {{"kind", std::string(image::word_of(firmware.start->kind))},
                    {"value", firmware.start->value}};
  }
  out["notes"] = Json::array();
  for (const image::Note& each : firmware.notes.all()) {
    out["notes"].push_back({{"id", std::string(each.id)},
                            {"count", each.count},
                            {"line", each.line},
                            {"detail", each.detail}});
  }
  return out;
}

Json different_json(const image::DifferentRange& range) {
  constexpr std::string_view kinds[] = {"differ", "only-in-first", "only-in-second"};
  return {{"what", std::string(kinds[static_cast<std::size_t>(range.what)])},
          {"address", range.range.address},
          {"length", range.range.length},
          {"first", crypto::hex(range.a)},
          {"second", crypto::hex(range.b)}};
}

Json comparison_json(const image::Comparison& comparison) {
  Json ranges = Json::array();
  for (const image::DifferentRange& range : comparison.ranges) {
    ranges.push_back(different_json(range));
  }
  return {{"same", comparison.same()},
          {"equal_bytes", comparison.equal_bytes},
          {"different_bytes", comparison.different_bytes},
          {"only_in_first", comparison.only_in_a},
          {"only_in_second", comparison.only_in_b},
          {"range_count", comparison.range_count},
          {"ranges", ranges}};
}

Json read_back_json(const image::ReadBackReport& report) {
  Json bytes;
  for (std::size_t cause = 0; cause < image::cause_words.size(); ++cause) {
    bytes[std::string(image::cause_words[cause])] = report.bytes[cause];
  }
  Json ranges = Json::array();
  for (const image::Explained& each : report.ranges) {
    Json range = different_json(each.difference);
    range["cause"] = std::string(image::cause_words[static_cast<std::size_t>(each.cause)]);
    range["name"] = each.name;
    ranges.push_back(range);
  }
  return {{"equal_bytes", report.equal_bytes},
          {"erased_bytes", report.erased_bytes},
          {"bytes", bytes},
          {"range_count", report.range_count},
          {"ranges", ranges}};
}

Json region_json(const std::string& name, const image::SparseImage& part) {
  return {{"name", name},
          {"bytes", part.size()},
          {"sha256", crypto::hex(part.digest())},
          {"segments", segments_json(part.segments())}};
}

Json regions_json(const std::vector<image::NamedRange>& regions, const image::Split& split) {
  Json out = Json::array();
  for (std::size_t index = 0; index < regions.size(); ++index) {
    out.push_back(region_json(regions[index].name, split.parts[index]));
  }
  out.push_back(region_json("", split.leftover)); // what is in no region
  return out;
}

Json part_json(const format::Part& part) {
  Json out = {{"kind", word(part.kind, format::part_kind_words)}};
  if (part.literal.present) {
    out["literal"] = std::string(part.literal.value.view());
  }
  if (part.base.present) {
    out["base"] = part.base.value;
  }
  if (part.width.present) {
    out["width"] = part.width.value;
  }
  if (part.check.present) {
    out["check"] = word(part.check.value.kind, format::check_kind_words);
    out["from"] = part.check.value.from;
  }
  return out;
}

Json placement_json(const format::Placement& placement) {
  Json out = {{"region", std::string(placement.region.view())},
              {"address", placement.address},
              {"length", placement.length},
              {"encoding", word(placement.encoding, format::encoding_words)},
              {"before", word(placement.before, format::before_words)},
              {"crc", format::is_yes(placement.crc)}};
  out["first_part"] = placement.parts.present ? Json(placement.parts.value.first) : Json();
  out["last_part"] = placement.parts.present ? Json(placement.parts.value.last) : Json();
  out["padding"] = placement.padding.present ? Json(placement.padding.value) : Json();
  out["second_byte"] = placement.second_byte.present ? Json(placement.second_byte.value) : Json();
  return out;
}

Json serial_crc_json(const format::Maybe<format::SerialCrc>& crc) {
  return !crc.present ? Json()
                      : Json({{"model", std::string(crc.value.model.view())},
                              {"order", word(crc.value.order, format::byte_order_words)}});
}

Json serial_json(const format::Manifest& m) {
  if (!m.scheme.present) {
    return nullptr;
  }
  Json placements = Json::array();
  for (const format::Placement& placement : m.placements.view()) {
    placements.push_back(placement_json(placement));
  }
  Json parts = Json::array();
  for (const format::Part& part : m.parts.view()) {
    parts.push_back(part_json(part));
  }
  Json excluded = Json::array();
  for (const format::ExcludedRange& range : m.excluded.view()) {
    excluded.push_back({{"first", range.first}, {"last", range.last}});
  }
  return {{"scheme", std::string(m.scheme.value.id.view())},
          {"first", m.scheme.value.first},
          {"step", m.scheme.value.step},
          {"capacity", m.scheme.value.capacity},
          {"alphabet", m.alphabet.present ? Json(std::string(m.alphabet.value.view())) : Json()},
          {"crc", serial_crc_json(m.serial_crc)},
          {"excluded", excluded},
          {"parts", parts},
          {"placements", placements}};
}

// The low and the high supply; null where it is not verified at two.
Json verify_limits_json(const format::Manifest& m) {
  return m.verify_limits.present
             ? Json::array({m.verify_limits.value.low_mv, m.verify_limits.value.high_mv})
             : Json();
}

Json device_id_json(const format::Manifest& m) {
  const format::DeviceId& id = m.device_id.value;
  return m.device_id.present ? Json({{"value", crypto::hex({id.value.data(), id.size})},
                                     {"mask", crypto::hex({id.mask.data(), id.size})}})
                             : Json();
}

void put_kept_and_files(Json& out, const format::Manifest& m) {
  out["kept"] = Json::array();
  for (const format::KeptRange& kept : m.kept.view()) {
    out["kept"].push_back({{"region", std::string(kept.region.view())},
                           {"address", kept.address},
                           {"length", kept.length}});
  }
  out["files"] = Json::array();
  for (const format::SealedFile& file : m.files.view()) {
    out["files"].push_back({{"name", std::string(file.name.view())},
                            {"size", file.size},
                            {"digest", crypto::spell_digest(file.digest)}});
  }
}

Json manifest_json(const format::Manifest& m) {
  Json models = Json::array();
  for (const format::Id& model : m.station_models.view()) {
    models.push_back(std::string(model.view()));
  }
  Json segments = Json::array();
  for (const format::Segment& segment : m.segments.view()) {
    segments.push_back({{"address", segment.address}, {"length", segment.length}});
  }
  Json out = {{"owner", crypto::spell_digest(m.owner)},
              {"product", std::string(m.product.view())},
              {"release", std::string(m.release.view())},
              {"epoch", m.epoch},
              {"sequence", m.sequence},
              {"title", std::string(m.title.view())},
              {"previous", maybe_digest(m.previous)},
              {"device", std::string(m.device.view())},
              {"device_id", device_id_json(m)},
              {"board", std::string(m.board.view())},
              {"board_revision", m.board_revision},
              {"station_models", models},
              {"slots", m.slots},
              {"supply_source", word(m.supply_source, format::supply_source_words)},
              {"supply_mv", m.supply_mv},
              {"erase", word(m.erase, format::erase_words)},
              {"blank_check", format::is_yes(m.blank_check)},
              {"verify", word(m.verify, format::verify_words)},
              {"verify_limits_mv", verify_limits_json(m)},
              {"lock", word(m.lock, format::lock_words)},
              {"stop_after", m.stop_after},
              {"serial", serial_json(m)},
              {"segments", segments},
              {"image_size", m.image_size},
              {"image_sha256", crypto::hex(m.image_digest)},
              {"chain_head", crypto::spell_digest(m.chain_head)},
              {"plain_file", format::is_yes(m.plain_file)},
              {"facts", crypto::spell_digest(m.facts_digest)},
              {"facts_size", m.facts_size}};
  put_kept_and_files(out, m);
  return out;
}

Json signoffs_json(const package::Package& package) {
  Json list = Json::array();
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    list.push_back({{"product", std::string(s.product.view())},
                    {"epoch", s.epoch},
                    {"sequence", s.sequence},
                    {"role", word(s.role, format::role_words)},
                    {"person", std::string(s.person.view())},
                    {"key", crypto::hex(s.key)},
                    {"meaning", std::string(s.meaning.view())},
                    {"reason", std::string(s.reason.view())},
                    {"time", time_text(s.time)},
                    {"previous", maybe_digest(s.previous)},
                    {"trust_sequence", s.trust_sequence},
                    {"units_a_station",
                     s.units_a_station.present ? Json(s.units_a_station.value) : Json(nullptr)},
                    {"stations", s.stations.present ? Json(s.stations.value) : Json(nullptr)},
                    {"numbers", s.numbers.present ? Json({{"first", s.numbers.value.first},
                                                          {"last", s.numbers.value.last}})
                                                  : Json(nullptr)},
                    {"plain_file", format::is_yes(s.plain_file)},
                    {"tool", std::string(s.tool.view())},
                    {"digest", crypto::spell_digest(entry.digest)}});
  }
  return list;
}

// Below zero where the limit is missed.
Json distance_json(const format::MarginFacts& m) {
  if (!m.value.present) {
    return nullptr;
  }
  const auto distance = static_cast<std::int64_t>(m.value.value.distance);
  return m.standing == format::Standing::holds ? distance : -distance;
}

Json margins_json(const format::Facts& facts) {
  Json margins = Json::array();
  for (const format::MarginFacts& m : facts.margins.view()) {
    margins.push_back({{"id", std::string(m.id.view())},
                       {"phase", word(m.phase, format::supply_phase_words)},
                       {"station", std::string(m.model.view())},
                       {"standing", word(m.standing, format::standing_words)},
                       {"unit", word(m.unit, format::margin_unit_words)},
                       {"value", m.value.present ? Json(m.value.value.value) : Json(nullptr)},
                       {"limit", m.limit},
                       {"distance", distance_json(m)},
                       {"formula", std::string(m.formula.view())}});
  }
  return margins;
}

Json supply_inputs_json(const format::Facts& facts) {
  Json inputs = Json::array();
  for (const format::SupplyInput& s : facts.supply_inputs.view()) {
    inputs.push_back({{"id", std::string(s.id.view())},
                      {"phase", word(s.phase, format::supply_phase_words)},
                      {"station", std::string(s.model.view())},
                      {"value", s.value}});
  }
  return inputs;
}

void put_times(Json& out, const format::Facts& facts) {
  out["lot_estimate"] = {{"good_boards", facts.lot.good_boards},
                         {"yield_ppm", facts.lot.yield_ppm},
                         {"slowest_ppm", facts.lot.slowest_ppm},
                         {"set_up_s", facts.lot.set_up_s}};
  out["cycle_inputs"] = Json::array();
  for (const format::CycleInput& c : facts.cycle_inputs.view()) {
    out["cycle_inputs"].push_back({{"id", std::string(c.id.view())},
                                   {"station", std::string(c.model.view())},
                                   {"value", c.value}});
  }
  out["cycle_formulas"] = Json::array();
  for (const format::CycleFormula& c : facts.cycle_formulas.view()) {
    out["cycle_formulas"].push_back({{"id", std::string(c.id.view())},
                                     {"station", std::string(c.model.view())},
                                     {"formula", std::string(c.formula.view())}});
  }
  out["cycles"] = Json::array();
  for (const format::CycleFacts& c : facts.cycles.view()) {
    out["cycles"].push_back({{"station", std::string(c.model.view())},
                             {"slots", c.slots},
                             {"board_us", c.board_us},
                             {"cycle_us", c.cycle_us},
                             {"boards", c.boards},
                             {"lot_us", c.lot_us}});
  }
}

Json deviations_json(const format::Facts& facts) {
  Json out = Json::array();
  for (const format::Deviation& d : facts.deviations.view()) {
    out.push_back({{"number", std::string(d.number.view())},
                   {"rule", std::string(d.rule.view())},
                   {"boards", d.boards},
                   {"expires", time_text(d.expires)},
                   {"reason", std::string(d.reason.view())}});
  }
  return out;
}

void put_calculation(Json& out, const format::Facts& facts) {
  out["margins"] = margins_json(facts);
  out["supply_inputs"] = supply_inputs_json(facts);
  out["supply_formulas"] = Json::array();
  for (const format::SupplyFormula& s : facts.supply_formulas.view()) {
    out["supply_formulas"].push_back({{"id", std::string(s.id.view())},
                                      {"station", std::string(s.model.view())},
                                      {"formula", std::string(s.formula.view())}});
  }
  out["work_steps"] = Json::array();
  for (const format::WorkStep& s : facts.work_steps.view()) {
    out["work_steps"].push_back(
        {{"name", std::string(s.name.view())}, {"reason", std::string(s.reason.view())}});
  }
  out["panel"] = Json::array();
  for (const format::PanelPlace& p : facts.panel.view()) {
    out["panel"].push_back({{"slot", p.slot}, {"position", std::string(p.position.view())}});
  }
  put_times(out, facts);
}

Json supply_limits_json(const format::SupplyFacts& supply) {
  return {{"device_low_mv", supply.device_low},
          {"device_high_mv", supply.device_high},
          {"device_absolute_max_mv", supply.device_absolute_max},
          {"board_low_mv", supply.board_low},
          {"board_high_mv", supply.board_high}};
}

void put_stations(Json& out, const format::Facts& facts) {
  out["stations"] = Json::array();
  for (const format::StationFacts& s : facts.stations.view()) {
    out["stations"].push_back({{"model", std::string(s.model.view())},
                               {"reads", word(s.reads, format::station_reads_words)},
                               {"slots", s.slots},
                               {"supply_low_mv", s.supply_low_mv},
                               {"supply_high_mv", s.supply_high_mv},
                               {"supply_step_mv", s.supply_step_mv},
                               {"partition", word(s.partition, format::partition_words)},
                               {"cluster_sectors", s.cluster_sectors},
                               {"max_sectors", s.max_sectors},
                               {"volume_label", std::string(s.volume_label.view())}});
  }
  out["plain_files"] = Json::array();
  for (const format::PlainFileFacts& p : facts.plain_files.view()) {
    out["plain_files"].push_back({{"model", std::string(p.model.view())},
                                  {"path", std::string(p.path.view())},
                                  {"form", word(p.form, format::plain_form_words)},
                                  {"record_length", p.record_length},
                                  {"line_end", word(p.line_end, format::line_end_words)},
                                  {"shown_checksum", std::string(p.shown_checksum.view())},
                                  {"shown_value", p.shown_value}});
  }
}

Json facts_json(const format::Facts& facts) {
  Json checksums = Json::array();
  for (const format::Checksum& checksum : facts.checksums.view()) {
    checksums.push_back({{"name", std::string(checksum.name.view())},
                         {"over", std::string(checksum.over.view())},
                         {"value", checksum.value},
                         {"fill", checksum.fill}});
  }
  Json fields = Json::array();
  for (const format::ConfigFact& field : facts.config_fields.view()) {
    fields.push_back({{"field", std::string(field.field.view())},
                      {"bits", field.bits},
                      {"meaning", std::string(field.meaning.view())}});
  }
  Json findings = Json::array();
  for (const format::FindingFacts& finding : facts.findings.view()) {
    findings.push_back({{"level", word(finding.level, format::level_words)},
                        {"rule", std::string(finding.rule.view())},
                        {"text", std::string(finding.text.view())}});
  }
  Json out = {{"product", std::string(facts.product.view())},
              {"release", std::string(facts.release.view())},
              {"firmware_name", std::string(facts.firmware_name.view())},
              {"firmware_size", facts.firmware_size},
              {"firmware_format", word(facts.firmware_format, format::firmware_format_words)},
              {"firmware_sha256", crypto::hex(facts.firmware_digest)},
              {"checksums", checksums},
              {"configuration", word(facts.configuration, format::configuration_words)},
              {"config_fields", fields},
              {"findings_counted", facts.findings_counted},
              {"findings", findings},
              {"deviations", deviations_json(facts)},
              {"supply", supply_limits_json(facts.supply)},
              {"tool", std::string(facts.tool.view())}};
  put_stations(out, facts);
  put_calculation(out, facts);
  return out;
}

Json package_json(const package::Package& package) {
  Json out = start();
  out["package"] = crypto::spell_digest(package.manifest_digest);
  out["manifest"] = manifest_json(package.manifest);
  out["signoffs"] = signoffs_json(package);
  out["facts"] = facts_json(package.facts);
  return out;
}

Json verdict_json(const Outcome& verdict) {
  return {{"good", verdict.ok()},
          {"reason", static_cast<unsigned>(verdict.fault)},
          {"what", verdict.ok() ? "" : std::string(fault_text(verdict.fault).sentence)},
          {"item", verdict.item},
          {"position", verdict.position}};
}

Json allotment_json(const format::Allotment& a) {
  Json spans = Json::array();
  for (const format::OrdinalRange& span : a.spans.view()) {
    spans.push_back({span.first, span.last});
  }
  return {{"station", std::string(a.station.view())},
          {"enrolment", a.enrolment},
          {"serial", a.serial},
          {"first", a.first},
          {"count", a.count},
          {"numbers", word(a.numbers, format::numbers_words)},
          {"spans", spans},
          {"units", a.units},
          {"class", word(a.work_class, format::work_class_words)},
          {"work_order", std::string(a.work_order.view())},
          {"enabled_slots", a.enabled_slots}};
}

// Where bytes go and stay, and what is looked at before.
Json work_json(const format::Manifest& m) {
  const auto ranges = [](const auto& list) {
    Json out = Json::array();
    for (const auto& each : list.view()) {
      out.push_back({std::string(each.region.view()), each.address, each.length});
    }
    return out;
  };
  Json segments = Json::array();
  for (const format::Segment& each : m.segments.view()) {
    segments.push_back({each.address, each.length});
  }
  Json device_id;
  if (m.device_id.present) {
    const format::DeviceId& id = m.device_id.value;
    device_id = {crypto::hex(ByteView(id.value).first(id.size)),
                 crypto::hex(ByteView(id.mask).first(id.size))};
  }
  return {{"segments", segments},
          {"kept", ranges(m.kept)},
          {"placements", ranges(m.placements)},
          {"blank_check", m.blank_check == format::YesNo::yes},
          {"stop_after", m.stop_after},
          {"device_id", device_id}};
}

Json unit_json(const StationUnit& unit) {
  return {{"ordinal", unit.ordinal}, {"text", unit.text}, {"bytes", unit.bytes}};
}

} // namespace

std::string slot_row(std::uint32_t permitted, std::uint32_t enabled) {
  std::string out;
  for (unsigned slot = 0; slot < 32 && (permitted >> slot) != 0; ++slot) {
    out += (enabled >> slot & 1U) != 0 ? '1' : '0';
  }
  return out;
}

std::string json_of(const StationVerdict& v, const std::string& card) {
  Json out = start();
  out["verdict"] = v.outcome.ok() ? "admitted" : "refused";
  out["card"] = escaped(card);
  out["station"] = {{"name", v.station}, {"model", v.model}, {"enrolment", v.enrolment}};
  out["learned"] = v.learned;
  if (!v.outcome.ok()) {
    const FaultText& fault = fault_text(v.outcome.fault);
    out["reason"] = {{"number", static_cast<unsigned>(v.outcome.fault)},
                     {"display", std::string(fault.display)},
                     {"sentence", std::string(fault.sentence)},
                     {"advice", std::string(fault.advice)},
                     {"item", v.outcome.item},
                     {"position", v.outcome.position}};
    return spell(out);
  }
  out["job"] = v.job;
  out["jobs"] = v.jobs;
  const format::Manifest& m = v.manifest;
  const format::Allotment& a = v.allotment;
  out["package"] = {{"manifest", crypto::spell_digest(v.manifest_digest)},
                    {"title", std::string(m.title.view())},
                    {"product", std::string(m.product.view())},
                    {"release", std::string(m.release.view())},
                    {"epoch", m.epoch},
                    {"sequence", m.sequence}};
  out["settings"] = {{"slots", slot_row(m.slots, a.enabled_slots)},
                     {"supply_source", word(m.supply_source, format::supply_source_words)},
                     {"supply_mv", m.supply_mv},
                     {"erase", word(m.erase, format::erase_words)},
                     {"verify", word(m.verify, format::verify_words)},
                     {"verify_limits_mv", verify_limits_json(m)},
                     {"lock", word(m.lock, format::lock_words)}};
  out["allotment"] = {{"card", crypto::hex(a.card)},
                      {"serial", a.serial},
                      {"work_order", std::string(a.work_order.view())},
                      {"class", word(a.work_class, format::work_class_words)},
                      {"units", a.units},
                      {"units_left", v.units_left}};
  if (v.first && v.last) {
    out["first_unit"] = unit_json(*v.first);
    out["last_unit"] = unit_json(*v.last);
  }
  out["work"] = work_json(m);
  out["image_bytes"] = v.image_bytes;
  out["image_sha256"] = crypto::hex(v.image_digest);
  return spell(out);
}

std::string json_of(const Error& error) {
  Json out = start();
  out["error"] = error_json(error);
  return spell(out);
}

std::string json_of(const ImageResult& result) {
  const image::Firmware& firmware = result.loaded.firmware;
  Json out = start();
  out.update(file_json(result.loaded));
  out["sha256"] = crypto::hex(firmware.image.digest());
  out["image_size"] = firmware.image.size();
  out["segments"] = segments_json(firmware.image.segments());
  out["merged"] = Json::array();
  for (const image::Loaded& each : result.merged) {
    out["merged"].push_back(file_json(each));
  }
  if (result.split != nullptr && !result.regions->empty()) {
    out["regions"] = regions_json(*result.regions, *result.split);
  }
  if (result.comparison != nullptr) {
    out["comparison"] = comparison_json(*result.comparison);
  }
  if (result.read_back != nullptr) {
    out["read_back"] = read_back_json(*result.read_back);
  }
  return spell(out);
}

std::string json_of(const Findings& findings) {
  Json out = start();
  out["refusals"] = findings.count(Severity::refuse);
  out["waived"] = findings.count(Severity::waived);
  out["warnings"] = findings.count(Severity::warn);
  out["notes"] = findings.count(Severity::note);
  out["findings"] = findings_json(findings);
  return spell(out);
}

std::string json_of(const Findings& findings, const format::Facts& facts) {
  Json out = Json::parse(json_of(findings));
  put_calculation(out, facts);
  return spell(out);
}

std::string json_of(const package::Package& package) {
  return spell(package_json(package));
}

std::string json_of(const package::Package& package, const std::vector<ListVerdict>& verdicts) {
  Json out = package_json(package);
  Outcome first;
  Json lists = Json::array();
  for (const ListVerdict& each : verdicts) {
    first = first.ok() ? each.outcome : first;
    Json list = {{"of", each.of.empty() ? Json() : Json(each.of)},
                 {"trust", crypto::spell_digest(each.list)},
                 {"sequence", each.sequence},
                 {"root_version", each.root_version},
                 {"verdict", verdict_json(each.outcome)}};
    list["reasons"] = Json::array();
    for (const package::Reason& reason : each.reasons) {
      list["reasons"].push_back({{"step", reason.step},
                                 {"text", reason.text},
                                 {"digest", reason.digest.empty() ? Json() : Json(reason.digest)},
                                 {"by", reason.by}});
    }
    lists.push_back(std::move(list));
  }
  out["verdict"] = verdict_json(first);
  out["lists"] = std::move(lists);
  return spell(out);
}

std::string json_of(const format::Withdrawal& withdrawal) {
  Json out = start();
  out["owner"] = crypto::spell_digest(withdrawal.owner);
  out["manifest"] = maybe_digest(withdrawal.manifest);
  out["key"] = withdrawal.key.present ? Json(crypto::hex(withdrawal.key.value)) : Json();
  out["allotment"] = maybe_digest(withdrawal.allotment);
  out["person"] = std::string(withdrawal.person.view());
  out["reason"] = std::string(withdrawal.reason.view());
  out["time"] = time_text(withdrawal.time);
  return spell(out);
}

std::string json_of(const format::TrustList& list, const format::Digest& digest) {
  Json out = start();
  out["trust"] = crypto::spell_digest(digest);
  out["sequence"] = list.sequence;
  out["root_version"] = list.root_version;
  out["owner"] = crypto::spell_digest(list.owner);
  out["previous"] = maybe_digest(list.previous);
  out["persons"] = persons_json(list.persons);
  out["keys"] = Json::array();
  for (const format::TrustedKey& key : list.keys.view()) {
    out["keys"].push_back(
        {{"key", crypto::hex(key.key)},
         {"person", std::string(key.person.view())},
         {"role", word(key.role, format::role_words)},
         {"product", key.product.present ? Json(std::string(key.product.value.view())) : Json()},
         {"state", word(key.state, format::key_state_words)}});
  }
  out["thresholds"] = Json::array();
  for (const format::Threshold& threshold : list.thresholds.view()) {
    out["thresholds"].push_back(
        {{"role", word(threshold.role, format::role_words)}, {"persons", threshold.persons}});
  }
  out["windows"] = Json::array();
  for (const format::Window& window : list.windows.view()) {
    out["windows"].push_back(
        {{"key", crypto::hex(window.key)},
         {"scheme", std::string(window.scheme.view())},
         {"first", window.first},
         {"last", window.last},
         {"use", format::window_use_words[static_cast<std::size_t>(window.use)]}});
  }
  out["withdrawn"] = Json::array();
  for (const format::Digest& manifest : list.withdrawn.view()) {
    out["withdrawn"].push_back(crypto::spell_digest(manifest));
  }
  out["products"] = Json::array();
  for (const format::Product& product : list.products.view()) {
    out["products"].push_back({{"id", std::string(product.id.view())},
                               {"epoch", product.epoch},
                               {"lowest_sequence", product.floor}});
  }
  return spell(out);
}

std::string json_of(const format::Root& root, const format::Digest& owner) {
  Json out = start();
  out["owner"] = crypto::spell_digest(owner);
  out["version"] = root.version;
  out["threshold"] = root.threshold;
  out["previous"] = maybe_digest(root.previous);
  out["persons"] = persons_json(root.persons);
  out["keys"] = Json::array();
  for (const format::RootKey& key : root.keys.view()) {
    out["keys"].push_back(
        {{"key", crypto::hex(key.key)}, {"person", std::string(key.person.view())}});
  }
  return spell(out);
}

std::string json_of(const card::CardReport& report, const runlog::LogFile* log) {
  Json out = start();
  if (log != nullptr) {
    out["log"] = {{"records", log->lines.size()},
                  {"sectors", log->sectors},
                  {"spoiled", log->spoiled},
                  {"broken", log->broken},
                  {"whole", log->whole()}};
  }
  const bool logged = report.index && report.index->log.present;
  out["results_come_back_as"] = report.index ? Json(logged ? "log" : "tally") : Json(nullptr);
  out["station_checks_signatures"] =
      report.index ? Json(logged || format::works_without_log(*report.index)) : Json(nullptr);
  out["sound"] = report.sound();
  out["touched"] = report.touched();
  const bool content_good = report.sound() || report.touched();
  const bool whole = log == nullptr || log->whole();
  out["good"] = content_good && whole;
  out["root_version"] = report.root_version;
  out["structure"] = findings_json(report.structure);
  out["problems"] = Json::array();
  for (const Error& problem : report.problems) {
    out["problems"].push_back(error_json(problem));
  }
  out["unplanned"] = report.unplanned;
  out["left_over"] = report.left_over;
  out["files_checked"] = report.files_checked;
  out["card_id"] = report.index ? Json(crypto::hex(report.index->card_id)) : Json(nullptr);
  out["packages"] = Json::array();
  for (const card::CardPackage& on_card : report.packages) {
    out["packages"].push_back({{"path", on_card.path},
                               {"package", crypto::spell_digest(on_card.package.manifest_digest)},
                               {"manifest", manifest_json(on_card.package.manifest)}});
  }
  out["allotments"] = Json::array();
  for (const format::Allotment& allotment : report.allotments) {
    out["allotments"].push_back(allotment_json(allotment));
  }
  return spell(out);
}

std::string json_of_key(const format::Key& key) {
  Json out = start();
  out["key"] = crypto::hex(key);
  return spell(out);
}

std::string json_of_volume(const fat32::Volume& volume) {
  Json out = start();
  out["partitioned"] = volume.shape().partitioned;
  out["total_sectors"] = volume.shape().total_sectors;
  out["cluster_count"] = volume.shape().cluster_count;
  out["sectors_per_cluster"] = volume.shape().sectors_per_cluster;
  out["files"] = Json::array();
  for (const fat32::Entry& entry : volume.entries()) {
    if (!entry.folder) {
      const std::uint32_t lba = entry.extents.empty() ? 0 : entry.extents[0].first_lba;
      out["files"].push_back({{"path", entry.path},
                              {"size", entry.size},
                              {"written", time_text(entry.written)},
                              {"first_sector", lba}});
    }
  }
  return spell(out);
}

} // namespace cardseal::view
