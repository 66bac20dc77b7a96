#include "job/facts_supply.h"

#include <algorithm>
#include <tuple>

#include "job/put.h"
#include "job/supply_case.h"
#include "supply/cycle_time.h"

namespace cardseal::job {
namespace {

using supply::Margin;

struct Worst { // of all stations
  Margin margin;
  const profile::Station* station;
};

std::string_view phase_word(supply::Phase phase) {
  return supply::phase_words[static_cast<std::size_t>(phase)];
}

format::SupplyPhase sealed_phase(supply::Phase phase) {
  return static_cast<format::SupplyPhase>(phase); // the words of both are one list
}
static_assert(format::supply_phase_words == supply::phase_words);
static_assert(format::margin_unit_words == supply::unit_words);
static_assert(format::standing_words == supply::standing_words);

std::vector<Worst> worst_margins(const std::vector<SupplyCase>& cases) {
  std::vector<Worst> worst;
  for (const SupplyCase& one : cases) {
    for (const Margin& margin : one.report->margins) {
      const auto same = std::find_if(worst.begin(), worst.end(), [&](const Worst& before) {
        return before.margin.id == margin.id && before.margin.phase == margin.phase;
      });
      if (same == worst.end()) {
        worst.push_back({margin, one.station});
      } else if (is_worse(margin, same->margin)) {
        *same = {margin, one.station};
      }
    }
  }
  std::sort(worst.begin(), worst.end(), [](const Worst& a, const Worst& b) {
    return std::tuple(a.margin.id, phase_word(a.margin.phase)) <
           std::tuple(b.margin.id, phase_word(b.margin.phase));
  });
  return worst;
}

void put_margins(const std::vector<SupplyCase>& cases, format::Facts& out) {
  for (const Worst& worst : worst_margins(cases)) {
    const Margin& margin = worst.margin;
    format::MarginFacts fact;
    fact.id = put<format::Text<24>>(margin.id);
    fact.phase = sealed_phase(margin.phase);
    fact.model = put<format::Id>(worst.station->id);
    fact.standing = static_cast<format::Standing>(margin.standing);
    fact.unit = static_cast<format::MarginUnit>(margin.unit);
    fact.limit = static_cast<std::uint64_t>(margin.limit);
    fact.formula = put<format::Text<96>>(margin.formula);
    if (margin.value && margin.margin) {
      const std::int64_t distance = *margin.margin < 0 ? -*margin.margin : *margin.margin;
      fact.value.set(
          {static_cast<std::uint64_t>(*margin.value), static_cast<std::uint64_t>(distance)});
    }
    out.margins.add(fact);
  }
}

// What differs from station to station; everything else given is told once, under `all`.
bool is_of_station(std::string_view id) {
  constexpr std::string_view ids[] = {
      "tolerance-mv",       "tolerance-ppm", "slots-on", "slot-limit-ua", "all-limit-ua",
      "shared-return-uohm", "settle-us",     "wait-us",  "bleed-ohm",     "removal-mv"};
  return std::find(std::begin(ids), std::end(ids), id) != std::end(ids);
}

void put_inputs(const std::vector<SupplyCase>& cases, format::Facts& out) {
  struct Line {
    supply::Given given;
    std::string_view model;
  };
  std::vector<Line> found;
  for (const SupplyCase& one : cases) {
    for (const supply::Given& given : supply::givens(one.inputs)) {
      if (is_of_station(given.id)) {
        found.push_back({given, one.station->id});
      } else if (&one == &cases.front()) {
        found.push_back({given, "all"});
      }
    }
  }
  std::sort(found.begin(), found.end(), [](const Line& a, const Line& b) {
    return std::tuple(a.given.id, phase_word(a.given.phase), a.model) <
           std::tuple(b.given.id, phase_word(b.given.phase), b.model);
  });
  for (const Line& line : found) {
    out.supply_inputs.add({put<format::Text<24>>(line.given.id), sealed_phase(line.given.phase),
                           put<format::Id>(line.model),
                           static_cast<std::uint32_t>(line.given.value)});
  }
}

void put_formulas(const supply::Report& report, format::Facts& out) {
  std::vector<std::pair<std::string_view, std::string_view>> found;
  for (const supply::Quantity& quantity : report.sheet) {
    if (!quantity.formula.empty()) {
      found.emplace_back(quantity.id, quantity.formula);
    }
  }
  std::sort(found.begin(), found.end());
  found.erase(std::unique(found.begin(), found.end()), found.end());
  for (const auto& [id, formula] : found) {
    out.supply_formulas.add({put<format::Text<24>>(id), put<format::Text<160>>(formula)});
  }
}

std::uint64_t units_of(std::uint64_t bytes, std::uint32_t unit) {
  return (bytes + unit - 1) / unit;
}

// What the device itself takes to write the image, at the longest; none without its times.
std::optional<std::uint64_t> device_write_us(const Inputs& in) {
  if (!in.device.times) {
    return std::nullopt;
  }
  std::uint64_t total = 0;
  for (const image::Segment& segment : in.firmware.firmware.image.segments()) {
    const profile::Region* region = in.device.region_at(segment.address);
    if (region == nullptr) {
      return std::nullopt;
    }
    for (const profile::RegionTimes& times : in.device.times->regions) {
      if (times.region == region->id) {
        total += units_of(segment.length, region->write_unit) * times.write_unit_us;
      }
    }
  }
  return total;
}

// Bytes a second of device and transfer together, rounded down.
std::uint32_t joint_rate(std::uint64_t bytes, std::uint64_t device_us, std::uint32_t transfer) {
  const std::uint64_t transfer_us = bytes * 1'000'000 / transfer + 1;
  const std::uint64_t rate = bytes * 1'000'000 / (device_us + transfer_us);
  return static_cast<std::uint32_t>(std::clamp<std::uint64_t>(rate, 1'000, transfer));
}

std::uint32_t verify_passes(const ReleaseFile& release) {
  return release.supply.verify ? 2 : release.settings.verify == format::Verify::none ? 0 : 1;
}

// Down to the low supply, up to the high one, and down again to what is still written, or to none.
std::uint32_t verify_changes_us(const ReleaseFile& release, const profile::Station& station) {
  const profile::StationSwitching& switching = station.switching;
  return release.supply.verify ? 2 * switching.wait_us + switching.settle_us : 0;
}

supply::CycleInputs cycle_inputs(const ReleaseFile& release, const Inputs& in,
                                 const profile::Station& station, std::uint64_t device_us) {
  const std::uint64_t bytes = in.firmware.firmware.image.size();
  const profile::StationWork& work = station.work;
  supply::CycleInputs out;
  out.program_bytes = static_cast<std::uint32_t>(bytes);
  out.program_bytes_per_s = joint_rate(bytes, device_us, work.program_bytes_per_s);
  out.verify_bytes = static_cast<std::uint32_t>(bytes);
  out.verify_bytes_per_s = work.verify_bytes_per_s;
  out.verify_passes = verify_passes(release);
  out.erase_us = release.settings.erase == format::Erase::none ? 0 : in.device.times->chip_erase_us;
  out.overhead_us = work.overhead_us + verify_changes_us(release, station);
  out.order = work.order == profile::SlotOrder::together ? supply::SlotOrder::together
                                                         : supply::SlotOrder::one_after_another;
  out.slots_on = slots_on(release, station);
  out.handling_board_us = work.handling_board_us;
  out.handling_cycle_us = work.handling_cycle_us;
  out.quantity = 1000;
  return out;
}

} // namespace

void put_supply_calculation(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  std::vector<SupplyCase> cases = supply_cases(release, in);
  const bool calculated = std::all_of(cases.begin(), cases.end(),
                                      [](const auto& one) { return one.report.has_value(); });
  if (cases.empty() || !calculated) {
    return;
  }
  put_inputs(cases, out);
  put_formulas(*cases.front().report, out);
  put_margins(cases, out);
}

void put_cycles(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  const std::optional<std::uint64_t> device_us = device_write_us(in);
  if (!device_us || in.firmware.firmware.image.segments().empty()) {
    return;
  }
  for (const profile::Station* station : by_model(in.stations)) {
    const auto report = supply::cycle_time(cycle_inputs(release, in, *station, *device_us));
    if (!report) {
      continue;
    }
    const supply::Quantity* cycle = supply::find(report->sheet, "cycle-us", supply::Phase::all);
    format::CycleFacts fact;
    fact.model = put<format::Id>(station->id);
    fact.slots = static_cast<std::uint8_t>(slots_on(release, *station));
    fact.board_us = static_cast<std::uint64_t>(report->board_us);
    fact.cycle_us = static_cast<std::uint64_t>(report->cycle_us);
    fact.lot_us = static_cast<std::uint64_t>(report->lot_us);
    fact.formula = put<format::Text<96>>(cycle == nullptr ? "" : cycle->formula);
    out.cycles.add(fact);
  }
}

} // namespace cardseal::job
