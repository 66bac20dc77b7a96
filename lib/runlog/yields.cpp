#include "runlog/yields.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace cardseal::runlog {
namespace {

constexpr double may_be_chance = 0.05;

struct Tally {
  std::uint64_t units = 0;
  std::uint64_t first_pass = 0;
  std::uint64_t good = 0;

  void add(const Unit& unit) {
    ++units;
    first_pass += unit.first_pass ? 1 : 0;
    good += unit.state == UnitState::good ? 1 : 0;
  }
};

template <class Number>
using ByPlace = std::map<std::pair<std::string, Number>, Tally>;

Yield yield_of(std::string station, std::string of, const Tally& tally) {
  return {std::move(station),
          std::move(of),
          tally.units,
          tally.first_pass,
          tally.good,
          wilson({tally.first_pass, tally.units}),
          wilson({tally.good, tally.units})};
}

template <class Number>
std::vector<Yield> listed(const ByPlace<Number>& places) {
  std::vector<Yield> out;
  for (const auto& [place, tally] : places) {
    out.push_back(yield_of(place.first, std::to_string(place.second), tally));
  }
  return out;
}

std::string sentence_of(const SlotFinding& f) {
  return fmt::format(
      "{}, slot {}: {} of {} boards were not good at the first try, on the other slots {} of {} "
      "(probability by chance {:.2g}, {} slots compared); look at the fixture, its contacts and "
      "the cable of this slot before the boards",
      f.station, f.slot, f.here.hits, f.here.all, f.others.hits, f.others.all, f.probability,
      f.compared);
}

void compare_slots(const ByPlace<unsigned>& slots, const std::map<std::string, Tally>& stations,
                   std::vector<SlotFinding>& findings) {
  for (const auto& [place, here] : slots) {
    const Tally& all = stations.at(place.first);
    SlotFinding f;
    f.station = place.first;
    f.slot = static_cast<std::uint8_t>(place.second);
    f.here = {here.units - here.first_pass, here.units};
    f.others = {all.units - all.first_pass - f.here.hits, all.units - here.units};
    f.probability = fisher(f.here, f.others);
    f.compared =
        static_cast<std::size_t>(std::count_if(slots.begin(), slots.end(), [&](const auto& one) {
          return one.first.first == place.first;
        }));
    const bool worse = f.here.hits * f.others.all > f.others.hits * f.here.all;
    if (worse && f.probability * static_cast<double>(f.compared) < may_be_chance) {
      f.sentence = sentence_of(f);
      findings.push_back(std::move(f));
    }
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const auto& a, const auto& b) { return a.probability < b.probability; });
}

} // namespace

Yields yields_of(const Account& account) {
  ByPlace<unsigned> slots;
  ByPlace<std::uint32_t> sessions;
  std::map<std::string, Tally> stations;
  std::map<std::string, Tally> orders;
  for (const AllotmentAccount& one : account.allotments) {
    for (const Unit& unit : one.units) {
      if (unit.state == UnitState::good || unit.state == UnitState::failed) {
        slots[{one.row.station, unit.slot}].add(unit);
        sessions[{one.row.station, unit.session}].add(unit);
        stations[one.row.station].add(unit);
        orders[one.row.work_order].add(unit);
      }
    }
  }
  Yields out;
  out.slots = listed(slots);
  out.sessions = listed(sessions);
  for (const auto& [station, tally] : stations) {
    out.stations.push_back(yield_of(station, "", tally));
  }
  for (const auto& [order, tally] : orders) {
    out.work_orders.push_back(yield_of("", order, tally));
  }
  compare_slots(slots, stations, out.findings);
  return out;
}

} // namespace cardseal::runlog
