#include "supply/margins.h"

#include <algorithm>

#include "supply/exact.h"
#include "supply/margin_kinds.h"
#include "supply/worst_case.h"

namespace cardseal::supply {
namespace {

std::optional<std::int64_t> value_of(const Sheet& sheet, std::string_view id, Phase phase) {
  const Quantity* quantity = find(sheet, id, phase);
  return quantity == nullptr ? std::nullopt : quantity->value;
}

Margin margin_of(const Sheet& sheet, const Kind& kind, Phase phase) {
  Margin margin;
  margin.id = kind.id;
  margin.phase = phase;
  margin.unit = kind.unit;
  margin.formula = kind.formula;
  margin.value = value_of(sheet, kind.value, phase);
  margin.value_new_contacts = value_of(sheet, kind.value_new_contacts, phase);
  margin.limit = product(value_of(sheet, kind.limit, phase).value(), kind.units_a_limit);
  if (!margin.value) {
    margin.standing = Standing::never;
    return margin;
  }
  margin.margin =
      kind.side == Side::at_most ? margin.limit - *margin.value : *margin.value - margin.limit;
  margin.standing = *margin.margin >= 0 ? Standing::holds : kind.when_missed;
  return margin;
}

void add_signals(const Signals& signals, Report& report) {
  report.margins.push_back(margin_of(report.sheet, signal_max, Phase::all));
  if (!signals.follows_supply) {
    report.margins.push_back(margin_of(report.sheet, signal_min, Phase::all));
  }
}

} // namespace

Result<Report, OutOfRange> calculate(const Inputs& in) {
  if (const auto bad = out_of_range(in)) {
    return Unexpected(*bad);
  }
  Report report;
  report.sheet = worst_case_sheet(in);
  const auto add = [&](const Kind& kind, Phase phase) {
    report.margins.push_back(margin_of(report.sheet, kind, phase));
  };
  for (const PhaseSetting& setting : in.phases) {
    const Range& device = device_range(setting.phase);
    for (const Kind& kind : {absolute_max, device.min, device.max, entry_range.min, entry_range.max,
                             slot_current, signal_over}) {
      add(kind, setting.phase);
    }
    if (&device != &operating_range) { // what is written has to work, too
      add(operating_range.min, setting.phase);
      add(operating_range.max, setting.phase);
    }
    if (setting.phase == Phase::verify_low) {
      add(discharge_verify_low, setting.phase);
    }
    if (find(report.sheet, "charge-verify-high-us", setting.phase) != nullptr) {
      add(charge_verify_high, setting.phase);
    }
  }
  for (const Kind& kind : {all_current, charge_time, discharge_removal}) {
    add(kind, Phase::all);
  }
  add_signals(in.signals, report);
  return report;
}

Result<Report, OutOfRange> calculate(const OwnInputs& in) {
  if (const auto bad = out_of_range(in)) {
    return Unexpected(*bad);
  }
  Report report;
  report.sheet = own_sheet(in);
  for (const Phase phase : in.phases) {
    const Range& device = device_range(phase);
    for (const Kind& kind : {absolute_max, device.min, device.max}) {
      report.margins.push_back(margin_of(report.sheet, kind, phase));
    }
    if (&device != &operating_range) {
      report.margins.push_back(margin_of(report.sheet, operating_range.min, phase));
      report.margins.push_back(margin_of(report.sheet, operating_range.max, phase));
    }
  }
  report.margins.push_back(margin_of(report.sheet, signal_over, Phase::all));
  add_signals(in.signals, report);
  return report;
}

Standing worst(const Report& report) {
  Standing standing = Standing::holds;
  for (const Margin& margin : report.margins) {
    standing = std::max(standing, margin.standing);
  }
  return standing;
}

} // namespace cardseal::supply
