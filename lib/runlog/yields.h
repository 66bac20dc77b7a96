// Yields of an account by slot, session, station and work order, and the slots that fail more often
// than their station's others. Units in doubt count neither as good nor as failed.
#pragma once

#include <optional>

#include "runlog/account.h"
#include "runlog/statistics.h"

namespace cardseal::runlog {

struct Yield {
  std::string station;     // empty for a work order
  std::string of;          // the slot's or session's number, or the work order; empty for a station
  std::uint64_t units = 0; // whose end is known
  std::uint64_t first_pass = 0;     // good at the first try
  std::uint64_t good = 0;           // in the end
  Interval first_range, good_range; // Wilson, 95 %
};

struct SlotFinding { // of a slot that differs for the worse
  std::string station;
  std::uint8_t slot = 0;
  Count here, others;       // units not good at the first try
  double probability = 1;   // Fisher's exact test
  std::size_t compared = 1; // slots that were: the probability is held against 0.05 of that part
  std::string sentence;
};

struct GroupFinding { // of a session, station or work order that differs for the worse
  std::string what;   // "session 3 of orchard-1"
  Count here, others; // units not good at the first try
  bool by_chart = false;
  double limit = 0;       // by chart: the upper one
  double probability = 1; // else: Fisher's exact test
  std::size_t compared = 1;
  std::string sentence;
};

// Units not good at the first try, lot by lot, with control limits around their mean. Fewer lots
// than a chart needs are drawn all the same, and name nothing.
struct LotChart {
  double mean = 0;
  std::vector<Interval> limits; // as `Yields::work_orders`
};

// How often the contacts of a fixture met a board, whatever became of it; tries of one board count
// once.
struct FixtureCount {
  std::string fixture; // empty: none was entered
  std::uint64_t boards = 0;
  std::uint64_t sessions = 0;
  unsigned slot = 0; // the one that met the most boards: its contacts wear first
  std::uint64_t slot_boards = 0;
};

// What went wrong, the most frequent first, with its part of all failures and of those above too.
struct Pareto {
  std::string outcome;
  std::uint64_t tries = 0;
  double share = 0;
  double with_above = 0;
};

struct Yields {
  std::vector<Yield> slots, sessions, stations, work_orders;
  std::optional<LotChart> lots;      // of two work orders or more
  std::vector<SlotFinding> findings; // the most improbable first
  std::vector<GroupFinding> groups;
  std::vector<FixtureCount> fixtures;
  std::vector<Pareto> failures;
};

// A slot is named when so large a difference has a probability below 0.05 divided by the number of
// slots compared: Bonferroni, NIST/SEMATECH e-Handbook 7.4.7.3; 0.05 is common practice, no source.
//
// Sessions of a station, stations and work orders are held against each other by a control chart of
// proportions where there are groups enough for one (20; common practice, no source) and each is
// large enough (five units expected on either side), else each against all others as slots are.
Yields yields_of(const Account& account);

// Whether the chart of the lots decides: by the numbers above.
bool fits_a_chart(const Yields& yields);

} // namespace cardseal::runlog
