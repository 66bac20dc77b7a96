#include "reconcile_print.h"

#include <algorithm>

#include <fmt/format.h>

#include "common.h"
#include "crypto/sha256.h"

namespace cardseal::tool {
namespace {

using runlog::UnitState;

constexpr std::size_t most_listed = 20;

std::string percent(std::uint64_t part, std::uint64_t all) {
  return all == 0 ? std::string("-")
                  : fmt::format("{:.1f} %",
                                100.0 * static_cast<double>(part) / static_cast<double>(all));
}

std::string range(const runlog::Interval& interval) {
  return fmt::format("{:.1f} to {:.1f}", 100 * interval.low, 100 * interval.high);
}

void print_yields(const char* title, const char* of, const std::vector<runlog::Yield>& yields) {
  if (yields.empty()) {
    return;
  }
  say(fmt::format("{:<22} {:>6}  {:>10}  {:<14} {:>8}  {}", title, "units", "first pass", "95 %",
                  "final", "95 %"));
  for (const runlog::Yield& y : yields) {
    const std::string name =
        y.station + (y.station.empty() || y.of.empty() ? "" : ", ") +
        (y.of.empty() ? "" : (*of == '\0' ? "" : std::string(of) + " ") + y.of);
    say(fmt::format("  {:<20} {:>6}  {:>10}  {:<14} {:>8}  {}", escaped(name), y.units,
                    percent(y.first_pass, y.units), range(y.first_range), percent(y.good, y.units),
                    range(y.good_range)));
  }
}

// The units that somebody has to look for.
void print_open_units(const runlog::AllotmentAccount& one) {
  std::size_t listed = 0;
  for (const runlog::OpenUnit& each : one.open) {
    const runlog::Unit& unit = each.unit;
    if (++listed > most_listed) {
      break;
    }
    const std::string name = one.row.scheme
                                 ? fmt::format("ordinal {}", one.row.ordinal_of(each.place))
                                 : fmt::format("unit {}", each.place + 1);
    say(fmt::format("    {:<16} {:<9} session {}, slot {}{}{}", name,
                    unit.state == UnitState::failed ? "failed" : "in doubt", unit.session,
                    unit.slot, unit.outcome.empty() ? "" : ", last ", unit.outcome));
  }
  if (one.open.size() > most_listed) {
    say(fmt::format("    and {} more; --json has them all", one.open.size() - most_listed));
  }
}

void print_problems(const std::vector<runlog::Problem>& problems) {
  for (const runlog::Problem& problem : problems) {
    const std::string file = problem.file.empty() ? "" : escaped(problem.file) + ": ";
    say(fmt::format("wrong     {}{} [{}]", file, escaped(problem.what), problem.code));
  }
}

} // namespace

void print_account(const runlog::Account& account, const runlog::Yields& yields) {
  for (const runlog::LogSummary& log : account.logs) {
    say(fmt::format("log       {}  card {}, {} records", escaped(log.file), crypto::hex(log.card),
                    log.records));
  }
  for (const runlog::AllotmentAccount& one : account.allotments) {
    say(fmt::format("allotment {}  {}, {}, {} units: {} good, {} failed, {} in doubt, {} unused",
                    one.row.id, one.row.station, escaped(one.row.work_order), one.row.units,
                    one.count(UnitState::good), one.count(UnitState::failed),
                    one.count(UnitState::in_doubt), one.count(UnitState::unused)));
    print_open_units(one);
  }
  print_yields("by work order", "", yields.work_orders);
  print_yields("by station", "", yields.stations);
  print_yields("by session", "session", yields.sessions);
  print_yields("by slot", "slot", yields.slots);
  for (const runlog::Pareto& failure : yields.failures) {
    say(fmt::format(
        "{:<9} {} tries ended so, {:.1f} % of what went wrong, {:.1f} % with those above",
        failure.outcome, failure.tries, 100 * failure.share, 100 * failure.with_above));
  }
  for (const runlog::FixtureCount& fixture : yields.fixtures) {
    say(fmt::format("{:<9} {} boards put in over {} sessions, most on slot {}: {}",
                    fixture.fixture.empty() ? "fixture?" : fixture.fixture, fixture.boards,
                    fixture.sessions, fixture.slot, fixture.slot_boards));
  }
  for (const runlog::SlotFinding& finding : yields.findings) {
    say("differs   " + finding.sentence);
  }
  for (const runlog::GroupFinding& finding : yields.groups) {
    say("differs   " + escaped(finding.sentence));
  }
  print_problems(account.problems);
}

void print_tally(const runlog::TallyAccount& account) {
  const runlog::Tally& t = account.tally;
  say(fmt::format("tally     card {}, {}, {}, by {} and {}", crypto::hex(account.row.card),
                  account.row.station, escaped(account.row.work_order), t.initials[0],
                  t.initials[1]));
  say(fmt::format("boards    {} issued, {} good, {} scrap, {} not worked or set aside", t.issued,
                  t.good, t.scrap, account.returned));
  say(fmt::format("numbers   {} used by the counter, {} of {} unused", account.used,
                  account.row.units - account.begun, account.row.units));
  say(fmt::format("yield     {}  95 %: {}", percent(t.good, t.good + t.scrap),
                  range(runlog::wilson({t.good, t.good + t.scrap}))));
  print_problems(account.problems);
  if (!account.problems.empty()) {
    note("which units are good is not known: find out why the counts differ, and name no unit to "
         "make them fit; one that the station took and no board got is named with --no-board");
  } else if (!account.good_known) {
    note("which units are good is not known: name every scrapped one with --scrapped");
  }
}

void print_kept(const std::vector<Kept>& kept, bool dry_run) {
  for (const Kept& one : kept) {
    say(fmt::format("register  allotment {}: {} begun, {} good", one.allotment, one.begun,
                    one.good));
  }
  if (dry_run) {
    note("dry run: the register stays as it is");
  } else if (!kept.empty() && kept.front().new_entries == 0) {
    note("the register knew all of it");
  }
}

} // namespace cardseal::tool
