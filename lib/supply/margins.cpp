#include "supply/margins.h"

#include <algorithm>

#include "supply/exact.h"
#include "supply/worst_case.h"

namespace cardseal::supply {
namespace {

enum class Side : std::uint8_t { at_most, at_least };

// What a margin is read from: a value of the sheet, a limit that is given, and the unit of the
// value in units of the limit.
struct Kind {
  std::string_view id;
  Unit unit;
  Side side;
  Standing when_missed;
  std::string_view value;
  std::string_view value_new_contacts; // empty: contacts do not enter
  std::string_view limit;
  std::int64_t units_a_limit;
  std::string_view formula;
};

constexpr Kind device_below(std::string_view id, Standing when_missed, std::string_view limit,
                            std::string_view formula) {
  return {id,   Unit::microvolts, Side::at_most, when_missed, "device-high-uv", "", limit,
          1000, formula};
}

constexpr Kind device_above(std::string_view id, std::string_view limit, std::string_view formula) {
  return {id,
          Unit::microvolts,
          Side::at_least,
          Standing::misses,
          "device-low-uv",
          "device-low-new-uv",
          limit,
          1000,
          formula};
}

constexpr Kind absolute_max =
    device_below("device-absolute-max", Standing::harms, "absolute-max-mv",
                 "absolute-max-mv * 1000 - device-high-uv");

struct Range {
  Kind min;
  Kind max;
};

constexpr Range program_range{
    device_above("device-program-min", "program-min-mv", "device-low-uv - program-min-mv * 1000"),
    device_below("device-program-max", Standing::misses, "program-max-mv",
                 "program-max-mv * 1000 - device-high-uv")};

constexpr Range erase_range{
    device_above("device-erase-min", "erase-min-mv", "device-low-uv - erase-min-mv * 1000"),
    device_below("device-erase-max", Standing::misses, "erase-max-mv",
                 "erase-max-mv * 1000 - device-high-uv")};

constexpr Range operating_range{device_above("device-operating-min", "operating-min-mv",
                                             "device-low-uv - operating-min-mv * 1000"),
                                device_below("device-operating-max", Standing::misses,
                                             "operating-max-mv",
                                             "operating-max-mv * 1000 - device-high-uv")};

constexpr Range entry_range{
    {"board-entry-min", Unit::microvolts, Side::at_least, Standing::misses, "entry-low-uv",
     "entry-low-new-uv", "entry-min-mv", 1000, "entry-low-uv - entry-min-mv * 1000"},
    {"board-entry-max", Unit::microvolts, Side::at_most, Standing::harms, "station-high-uv", "",
     "entry-max-mv", 1000, "entry-max-mv * 1000 - station-high-uv"}};

constexpr Kind slot_current{"slot-current",
                            Unit::microamps,
                            Side::at_most,
                            Standing::misses,
                            "load-ua",
                            "",
                            "slot-limit-ua",
                            1,
                            "slot-limit-ua - load-ua"};
constexpr Kind all_current{"all-current",
                           Unit::microamps,
                           Side::at_most,
                           Standing::misses,
                           "all-ua",
                           "",
                           "all-limit-ua",
                           1,
                           "all-limit-ua - all-ua"};
constexpr Kind charge_time{"charge-time",
                           Unit::microseconds,
                           Side::at_most,
                           Standing::misses,
                           "charge-us",
                           "",
                           "settle-us",
                           1,
                           "settle-us - charge-us"};
constexpr Kind discharge_verify_low{"discharge-verify-low",
                                    Unit::microseconds,
                                    Side::at_most,
                                    Standing::misses,
                                    "discharge-verify-low-us",
                                    "",
                                    "wait-us",
                                    1,
                                    "wait-us - discharge-verify-low-us"};
constexpr Kind discharge_removal{"discharge-removal",
                                 Unit::microseconds,
                                 Side::at_most,
                                 Standing::misses,
                                 "discharge-removal-us",
                                 "",
                                 "wait-us",
                                 1,
                                 "wait-us - discharge-removal-us"};

const Range& device_range(Phase phase) {
  switch (phase) {
  case Phase::program:
    return program_range;
  case Phase::erase:
    return erase_range;
  default:
    return operating_range;
  }
}

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
    for (const Kind& kind :
         {absolute_max, device.min, device.max, entry_range.min, entry_range.max, slot_current}) {
      add(kind, setting.phase);
    }
    if (setting.phase == Phase::verify_low) {
      add(discharge_verify_low, setting.phase);
    }
  }
  for (const Kind& kind : {all_current, charge_time, discharge_removal}) {
    add(kind, Phase::all);
  }
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
