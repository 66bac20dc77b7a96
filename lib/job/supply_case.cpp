#include "job/supply_case.h"

#include <algorithm>
#include <bit>

#include <fmt/format.h>

#include "supply/copper.h"

namespace cardseal::job {
namespace {

constexpr std::uint32_t ua_a_ma = 1000;
constexpr std::uint32_t uohm_a_mohm = 1000;
constexpr std::uint32_t nf_a_uf = 1000;

supply::StationSide station_side(const ReleaseFile& release, const profile::Station& station) {
  supply::StationSide side;
  side.tolerance_mv = station.supply.tolerance_mv;
  side.tolerance_ppm = station.supply.tolerance_ppm;
  side.slots_on = slots_on(release, station);
  side.slot_limit_ua = station.current.slot_ma * ua_a_ma;
  side.all_limit_ua = station.current.all_ma * ua_a_ma;
  side.shared_return_uohm = station.current.shared_return_mohm * uohm_a_mohm;
  side.settle_us = station.switching.settle_us;
  side.wait_us = station.switching.wait_us;
  side.bleed_ohm = station.switching.bleed_ohm;
  side.removal_mv = station.switching.removal_mv;
  return side;
}

supply::Signals signals_of(const profile::Station& station) {
  return {station.signals.follow_supply, station.signals.set_mv, station.signals.tolerance_mv};
}

supply::Cable cable_of(const profile::BoardCable& cable) {
  supply::Cable out;
  out.length_mm = cable.length_mm;
  out.wire_c = static_cast<std::int32_t>(cable.hottest_c);
  if (const supply::Gauge* gauge = supply::find_gauge(cable.awg)) {
    out.uohm_per_m = gauge->uohm_per_m;
  } else if (const auto resistance = supply::uohm_per_m_of(cable.area_um2)) {
    out.uohm_per_m = *resistance;
  }
  return out;
}

supply::BoardSide board_side(const profile::Board& board) {
  supply::BoardSide side;
  side.entry = entry_kind(board);
  side.entry_min_mv = board.supply.min_mv;
  side.entry_max_mv = board.supply.max_mv;
  side.drop_least_mv = board.supply.drop_least_mv;
  side.drop_most_mv = board.supply.drop_most_mv;
  side.output_least_mv = board.supply.output_min_mv;
  side.output_most_mv = board.supply.output_max_mv;
  side.start_ua = board.load.start_ma * ua_a_ma;
  side.capacitance_nf = board.load.capacitance_uf * nf_a_uf;
  side.bleed_ohm = board.load.bleed_ohm;
  side.signal_min_mv = board.signals.high_min_mv;
  side.signal_max_mv = board.signals.max_mv;
  side.signal_over_mv = board.signals.over_device_mv;
  return side;
}

supply::DeviceSide device_side(const profile::DeviceSupply& device) {
  supply::DeviceSide side;
  side.operating_min_mv = device.operating_min_mv;
  side.operating_max_mv = device.operating_max_mv;
  side.program_min_mv = device.program_min_mv;
  side.program_max_mv = device.program_max_mv;
  side.erase_min_mv = device.erase_min_mv;
  side.erase_max_mv = device.erase_max_mv;
  side.absolute_max_mv = device.absolute_max_mv;
  return side;
}

std::vector<supply::PhaseSetting> phases_of(const ReleaseFile& release,
                                            const profile::BoardLoad& load) {
  const std::uint32_t mv = release.supply.supply_mv;
  std::vector<supply::PhaseSetting> phases{{supply::Phase::program, mv, load.program_ma * ua_a_ma}};
  if (release.settings.erase != format::Erase::none) {
    phases.push_back({supply::Phase::erase, mv, load.erase_ma * ua_a_ma});
  }
  if (release.settings.verify == format::Verify::nominal) {
    phases.push_back({supply::Phase::verify, mv, load.verify_ma * ua_a_ma});
  }
  if (release.supply.verify) {
    const std::uint32_t ua = load.verify_ma * ua_a_ma;
    phases.push_back({supply::Phase::verify_low, release.supply.verify->low_mv, ua});
    phases.push_back({supply::Phase::verify_high, release.supply.verify->high_mv, ua});
  }
  return phases;
}

SupplyCase case_at(const ReleaseFile& release, const Inputs& in, const profile::Station& station) {
  supply::Inputs inputs;
  inputs.station = station_side(release, station);
  inputs.signals = signals_of(station);
  inputs.cable = cable_of(in.board.cable);
  inputs.contacts = {in.board.contacts.there, in.board.contacts.back,
                     in.board.contacts.new_mohm * uohm_a_mohm,
                     in.board.contacts.worn_mohm * uohm_a_mohm};
  inputs.board = board_side(in.board);
  inputs.device = device_side(in.device.supply);
  inputs.phases = phases_of(release, in.board.load);
  return {&station, supply::givens(inputs), supply::calculate(inputs)};
}

SupplyCase own_case_at(const ReleaseFile& release, const Inputs& in,
                       const profile::Station& station) {
  supply::OwnInputs inputs;
  inputs.signals = signals_of(station);
  inputs.board = board_side(in.board);
  inputs.device = device_side(in.device.supply);
  inputs.phases = {supply::Phase::program};
  if (release.settings.erase != format::Erase::none) {
    inputs.phases.push_back(supply::Phase::erase);
  }
  if (release.settings.verify != format::Verify::none) {
    inputs.phases.push_back(supply::Phase::verify);
  }
  return {&station, supply::givens(inputs), supply::calculate(inputs)};
}

} // namespace

supply::EntryKind entry_kind(const profile::Board& board) {
  switch (board.supply.entry) {
  case profile::SupplyEntry::at_device:
    return supply::EntryKind::at_device;
  case profile::SupplyEntry::before_diode:
    return supply::EntryKind::before_diode;
  case profile::SupplyEntry::before_regulator:
    return supply::EntryKind::before_regulator;
  }
  return supply::EntryKind::at_device;
}

std::string spell_thousandths(std::int64_t value) {
  std::string out = fmt::format("{}.{:03}", value / 1000, value % 1000);
  out.erase(out.find_last_not_of('0') + 1);
  return out.back() == '.' ? out.substr(0, out.size() - 1) : out;
}

std::uint32_t slots_on(const ReleaseFile& release, const profile::Station& station) {
  const auto has = static_cast<std::uint32_t>((std::uint64_t{1} << station.slots) - 1);
  return std::max(1U, static_cast<std::uint32_t>(std::popcount(release.slots.mask & has)));
}

bool is_worse(const supply::Margin& a, const supply::Margin& b) {
  if (!a.margin || !b.margin) {
    return !a.margin && b.margin;
  }
  return *a.margin < *b.margin;
}

std::vector<SupplyCase> supply_cases(const ReleaseFile& release, const Inputs& in) {
  std::vector<SupplyCase> cases;
  const bool by_station = release.supply.source == format::SupplySource::station;
  for (const profile::Station& station : in.stations) {
    cases.push_back(by_station ? case_at(release, in, station) : own_case_at(release, in, station));
  }
  return cases;
}

} // namespace cardseal::job
