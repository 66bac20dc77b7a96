#include "commands_serial.h"

#include <fmt/format.h>

namespace cardseal::tool {
namespace {

constexpr std::uint64_t most_units = 1'000'000; // in one answer

std::string line_of(const view::SerialUnit& unit, const std::vector<std::string>& placements) {
  std::string out = fmt::format("{:>12}  {:>12}  {}", unit.ordinal, unit.number, unit.text);
  for (std::size_t i = 0; i < placements.size(); ++i) {
    out += fmt::format("  {}: {}", placements[i], unit.bytes[i]);
  }
  return out + (unit.why.empty() ? "" : "  " + unit.why);
}

} // namespace

void print_units(const view::SerialProof& proof) {
  say(fmt::format("{:>12}  {:>12}  text and bytes", "ordinal", "number"));
  for (const view::SerialUnit& unit : proof.units) {
    say(line_of(unit, proof.placements));
  }
}

view::SerialProof proof_of(const SerialSource& source, const serial::UnitRange& range) {
  view::SerialProof proof;
  proof.scheme = source.manifest.scheme.value.id.view();
  proof.first = range.first;
  proof.last = range.last;
  proof.capacity = source.manifest.scheme.value.capacity;
  for (const format::Placement& placement : source.manifest.placements.view()) {
    proof.placements.push_back(placement_name(placement));
  }
  return proof;
}

Ran run_serial_units(const SerialUnitsOptions& options) {
  TRY(source, read_serial_source(options.source, options.json));
  TRY(all, to_units(source, {}));
  view::SerialProof proof = proof_of(source, all);
  for (const std::string& text : options.units) {
    TRY(range, to_units(source, text));
    if (range.last - range.first >= most_units - proof.units.size()) {
      return Unexpected(usage_error("these are too many units for one answer", text,
                                    fmt::format("at most {} in all", most_units)));
    }
    for (std::uint64_t ordinal = range.first; ordinal <= range.last; ++ordinal) {
      TRY(unit, spell_unit(source, ordinal));
      proof.units.push_back(std::move(unit));
    }
  }
  if (options.json) {
    say(view::json_of(proof));
  } else {
    print_units(proof);
  }
  return 0;
}

} // namespace cardseal::tool
