#include "runlog/yields.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace cardseal::runlog {
namespace {

constexpr double may_be_chance = 0.05;

template <class Number>
using ByPlace = std::map<std::pair<std::string, Number>, GroupSums>;

Yield yield_of(std::string station, std::string of, const GroupSums& tally) {
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
  out.reserve(places.size());
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

void compare_slots(const ByPlace<unsigned>& slots, const std::map<std::string, GroupSums>& stations,
                   std::vector<SlotFinding>& findings) {
  for (const auto& [place, here] : slots) {
    const GroupSums& all = stations.at(place.first);
    SlotFinding f;
    f.station = place.first;
    f.slot = static_cast<std::uint8_t>(place.second);
    f.here = {here.units - here.first_pass, here.units};
    f.others = {all.units - all.first_pass - f.here.hits, all.units - here.units};
    f.probability = fisher(f.here, f.others);
    f.compared =
        static_cast<std::size_t>(std::count_if(slots.begin(), slots.end(), [&f](const auto& one) {
          return one.first.first == f.station;
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

struct Group {
  std::string what;
  GroupSums tally;
};

Count not_good_first(const GroupSums& tally) {
  return {tally.units - tally.first_pass, tally.units};
}

std::string sentence_of(const GroupFinding& f) {
  const std::string why = f.by_chart
                              ? fmt::format("above the control limit of {:.1f} %", 100 * f.limit)
                              : fmt::format("probability by chance {:.2g}", f.probability);
  return fmt::format("{}: {} of {} boards were not good at the first try, elsewhere {} of {} ({}, "
                     "{} compared); look at what was different there: reel, fixture, cable, people",
                     f.what, f.here.hits, f.here.all, f.others.hits, f.others.all, why, f.compared);
}

constexpr std::size_t groups_at_least = 20; // of a control chart; common practice, no source
constexpr double expected_at_least = 5;     // units on either side, in a group of a control chart

bool fit_a_chart(const std::vector<Group>& groups, double mean) {
  return groups.size() >= groups_at_least &&
         std::all_of(groups.begin(), groups.end(), [&](const Group& group) {
           const auto size = static_cast<double>(group.tally.units);
           return size * mean >= expected_at_least && size * (1 - mean) >= expected_at_least;
         });
}

void compare_groups(const std::vector<Group>& groups, std::vector<GroupFinding>& findings) {
  Count all;
  for (const Group& group : groups) {
    const Count one = not_good_first(group.tally);
    all = {all.hits + one.hits, all.all + one.all};
  }
  if (groups.size() < 2) {
    return;
  }
  const double mean = static_cast<double>(all.hits) / static_cast<double>(all.all);
  for (const Group& group : groups) {
    GroupFinding f;
    f.what = group.what;
    f.here = not_good_first(group.tally);
    f.others = {all.hits - f.here.hits, all.all - f.here.all};
    f.compared = groups.size();
    f.by_chart = fit_a_chart(groups, mean);
    f.limit = chart_limits(mean, f.here.all).high;
    f.probability = fisher(f.here, f.others);
    const bool worse = f.here.hits * f.others.all > f.others.hits * f.here.all;
    const double here = static_cast<double>(f.here.hits) / static_cast<double>(f.here.all);
    const bool found = f.by_chart ? here > f.limit
                                  : f.probability * static_cast<double>(f.compared) < may_be_chance;
    if (worse && found) {
      f.sentence = sentence_of(f);
      findings.push_back(std::move(f));
    }
  }
}

void compare_sessions(const ByPlace<std::uint32_t>& sessions, std::vector<GroupFinding>& findings) {
  std::map<std::string, std::vector<Group>> of_station;
  for (const auto& [place, tally] : sessions) {
    of_station[place.first].push_back(
        {fmt::format("session {} of {}", place.second, place.first), tally});
  }
  for (const auto& [station, groups] : of_station) {
    compare_groups(groups, findings);
  }
}

void compare_named(const char* kind, const std::map<std::string, GroupSums>& tallies,
                   std::vector<GroupFinding>& findings) {
  std::vector<Group> groups;
  groups.reserve(tallies.size());
  for (const auto& [name, tally] : tallies) {
    groups.push_back({fmt::format("{} {}", kind, name), tally});
  }
  compare_groups(groups, findings);
}

std::optional<LotChart> chart_of(const std::vector<Yield>& lots) {
  Count all;
  for (const Yield& lot : lots) {
    all = {all.hits + lot.units - lot.first_pass, all.all + lot.units};
  }
  if (lots.size() < 2) {
    return std::nullopt;
  }
  LotChart chart;
  chart.mean = static_cast<double>(all.hits) / static_cast<double>(all.all);
  for (const Yield& lot : lots) {
    chart.limits.push_back(chart_limits(chart.mean, lot.units));
  }
  return chart;
}

std::vector<FixtureCount> fixtures_of(const Account& account) {
  std::map<std::string, std::map<unsigned, std::uint64_t>> boards;
  std::map<std::string, std::uint64_t> sessions;
  for (const AllotmentAccount& one : account.allotments) {
    for (const auto& [name, use] : one.fixtures) {
      sessions[name] += use.sessions.size(); // a session is one card's
      for (const auto& [slot, count] : use.boards) {
        boards[name][slot] += count;
      }
    }
  }
  std::vector<FixtureCount> out;
  for (const auto& [name, slots] : boards) {
    FixtureCount fixture{name, 0, sessions[name], 0, 0};
    for (const auto& [slot, count] : slots) {
      fixture.boards += count;
      if (count > fixture.slot_boards) {
        fixture.slot = slot;
        fixture.slot_boards = count;
      }
    }
    out.push_back(std::move(fixture));
  }
  return out;
}

std::vector<Pareto> pareto_of(const std::vector<Failure>& failures) {
  std::uint64_t all = 0;
  for (const Failure& failure : failures) {
    all += failure.tries;
  }
  std::vector<Pareto> out;
  std::uint64_t above = 0;
  for (const Failure& failure : failures) {
    above += failure.tries;
    out.push_back({failure.outcome, failure.tries,
                   static_cast<double>(failure.tries) / static_cast<double>(all),
                   static_cast<double>(above) / static_cast<double>(all)});
  }
  return out;
}

} // namespace

Yields yields_of(const Account& account) {
  ByPlace<unsigned> slots;
  ByPlace<std::uint32_t> sessions;
  std::map<std::string, GroupSums> stations;
  std::map<std::string, GroupSums> orders;
  for (const AllotmentAccount& one : account.allotments) {
    const std::string& station = one.row.station;
    for (const auto& [slot, sums] : one.slots) {
      slots[{station, slot}].add(sums);
    }
    for (const auto& [session, sums] : one.sessions) {
      sessions[{station, session}].add(sums);
    }
    if (one.all.units > 0) {
      stations[station].add(one.all);
      orders[one.row.work_order].add(one.all);
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
  out.lots = chart_of(out.work_orders);
  out.fixtures = fixtures_of(account);
  out.failures = pareto_of(account.failures);
  compare_slots(slots, stations, out.findings);
  compare_sessions(sessions, out.groups);
  compare_named("station", stations, out.groups);
  compare_named("work order", orders, out.groups);
  return out;
}

bool fits_a_chart(const Yields& yields) {
  std::vector<Group> groups;
  for (const Yield& lot : yields.work_orders) {
    groups.push_back({lot.of, {lot.units, lot.first_pass, lot.good}});
  }
  return yields.lots && fit_a_chart(groups, yields.lots->mean);
}

} // namespace cardseal::runlog
