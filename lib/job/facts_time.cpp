// How long a board, a cycle and a lot take at each station, from the longest times of the profiles
// and what the release expects of a lot.
#include <algorithm>
#include <tuple>

#include <fmt/format.h>

#include "job/checks.h"
#include "job/facts_supply.h"
#include "job/formula_lines.h"
#include "job/put.h"
#include "job/rules.h"
#include "job/supply_case.h"
#include "supply/cycle_time.h"

namespace cardseal::job {
namespace {

struct TimeCase {
  const profile::Station* station = nullptr;
  Result<supply::CycleReport, supply::OutOfRange> report;
};

std::uint64_t units_of(std::uint64_t bytes, std::uint32_t unit) {
  return (bytes + unit - 1) / unit;
}

const profile::RegionTimes* times_of(const profile::Device& device, const profile::Region& region) {
  for (const profile::RegionTimes& times : device.times->regions) {
    if (times.region == region.id) {
      return &times;
    }
  }
  return nullptr;
}

// Why there are no times; empty where there are.
std::string why_unknown(const Inputs& in) {
  if (!in.device.times) {
    return fmt::format("{} has no <times>", in.device.id);
  }
  for (const image::Segment& segment : in.firmware.firmware.image.segments()) {
    const profile::Region* region = in.device.region_at(segment.address);
    if (region != nullptr && times_of(in.device, *region) == nullptr) {
      return fmt::format("{} states no time for {}", in.device.id, region->id);
    }
  }
  return "";
}

// What the device itself takes to write the image, at the longest; none where a part of it lies
// outside the device, which is refused elsewhere.
std::optional<std::uint64_t> device_write_us(const Inputs& in) {
  std::uint64_t total = 0;
  for (const image::Segment& segment : in.firmware.firmware.image.segments()) {
    const profile::Region* region = in.device.region_at(segment.address);
    const profile::RegionTimes* times = region == nullptr ? nullptr : times_of(in.device, *region);
    if (times == nullptr) {
      return std::nullopt;
    }
    total += units_of(segment.length, region->write_unit) * times->write_unit_us;
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
  out.slowest_ppm = release.lot.slowest_ppm;
  out.order = work.order == profile::SlotOrder::together ? supply::SlotOrder::together
                                                         : supply::SlotOrder::one_after_another;
  out.slots_on = slots_on(release, station);
  out.handling_board_us = work.handling_board_us;
  out.handling_cycle_us = work.handling_cycle_us;
  out.quantity = release.lot.good_boards;
  out.yield_ppm = release.lot.yield_ppm;
  out.setup_us = release.lot.set_up_s * 1'000'000;
  return out;
}

// By model; none where the profile or the image does not say enough.
std::vector<TimeCase> time_cases(const ReleaseFile& release, const Inputs& in) {
  std::vector<TimeCase> out;
  if (!why_unknown(in).empty() || in.firmware.firmware.image.segments().empty()) {
    return out;
  }
  const std::optional<std::uint64_t> device_us = device_write_us(in);
  for (const profile::Station* station :
       device_us ? by_model(in.stations) : std::vector<const profile::Station*>{}) {
    out.push_back({station, supply::cycle_time(cycle_inputs(release, in, *station, *device_us))});
  }
  return out;
}

bool can_be_sealed(const TimeCase& one) {
  return one.report && one.report->lot_us <= static_cast<std::int64_t>(format::max_margin);
}

bool differs_by_station(std::string_view id) {
  constexpr std::string_view ids[] = {"program-bytes-per-s", "verify-bytes-per-s",
                                      "overhead-us",         "slots-on",
                                      "handling-board-us",   "handling-cycle-us"};
  return std::find(std::begin(ids), std::end(ids), id) != std::end(ids);
}

void put_time_inputs(const std::vector<TimeCase>& cases, format::Facts& out) {
  struct Line {
    std::string_view id;
    std::string_view model;
    std::int64_t value;
  };
  std::vector<Line> lines;
  for (const TimeCase& one : cases) {
    for (const supply::Quantity& quantity : one.report->sheet) {
      if (quantity.formula.empty() && (differs_by_station(quantity.id) || &one == &cases.front())) {
        lines.push_back(
            {quantity.id,
             differs_by_station(quantity.id) ? std::string_view(one.station->id) : "all",
             quantity.value.value_or(0)});
      }
    }
  }
  std::sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) {
    return std::tuple(a.id, a.model) < std::tuple(b.id, b.model);
  });
  for (const Line& line : lines) {
    out.cycle_inputs.add({put<format::Text<24>>(line.id), put<format::Id>(line.model),
                          static_cast<std::uint32_t>(line.value)});
  }
}

void put_time_formulas(const std::vector<TimeCase>& cases, format::Facts& out) {
  std::vector<FormulaLine> lines;
  for (const TimeCase& one : cases) {
    add_formulas(one.report->sheet, one.station->id, lines);
  }
  for (const FormulaLine& line : told_once(std::move(lines))) {
    out.cycle_formulas.add({put<format::Text<24>>(line.id), put<format::Id>(line.model),
                            put<format::Text<96>>(line.formula)});
  }
}

} // namespace

void check_times(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (const std::string why = why_unknown(in); !why.empty()) {
    findings.add(rules::time_unknown, why + ": no time of a lot is told", release.lot.place,
                 "add them to the device's profile, with their source");
  }
  for (const TimeCase& one : time_cases(release, in)) {
    if (!one.report) {
      findings.add(
          rules::time_unknown,
          fmt::format("{} at {} is {}, times take {} to {}", one.report.error().id, one.station->id,
                      one.report.error().found, one.report.error().least, one.report.error().most),
          release.lot.place, "correct that time in its profile, or the waits that it adds up");
    } else if (!can_be_sealed(one)) {
      findings.add(rules::time_unknown,
                   fmt::format("{} boards take {} s at {}: more than is counted",
                               one.report->boards, one.report->lot_us / 1'000'000, one.station->id),
                   release.lot.place, "state fewer good boards");
    }
  }
}

void put_cycles(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  out.lot = {release.lot.good_boards, release.lot.yield_ppm, release.lot.slowest_ppm,
             release.lot.set_up_s};
  std::vector<TimeCase> cases = time_cases(release, in);
  std::erase_if(cases,
                [](const TimeCase& one) { return !can_be_sealed(one); }); // check_times says why
  if (cases.empty()) {
    return;
  }
  put_time_inputs(cases, out);
  put_time_formulas(cases, out);
  for (const TimeCase& one : cases) {
    format::CycleFacts fact;
    fact.model = put<format::Id>(one.station->id);
    fact.slots = static_cast<std::uint8_t>(slots_on(release, *one.station));
    fact.board_us = static_cast<std::uint64_t>(one.report->board_us);
    fact.cycle_us = static_cast<std::uint64_t>(one.report->cycle_us);
    fact.boards = static_cast<std::uint64_t>(one.report->boards);
    fact.lot_us = static_cast<std::uint64_t>(one.report->lot_us);
    out.cycles.add(fact);
  }
}

} // namespace cardseal::job
