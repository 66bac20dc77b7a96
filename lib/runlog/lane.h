// The account of one allotment in the making, from the records of one station on one card. Records
// come cycle by cycle, or all at once; what a finished cycle leaves behind is two bits a unit,
// sums, and the units that somebody has to look for. Inside this module.
#pragma once

#include <map>
#include <set>
#include <string>
#include <tuple>
#include <vector>

#include "runlog/account.h"

namespace cardseal::runlog {

// As Copies has records of one station in order.
bool comes_before(const format::LogRecord& one, const format::LogRecord& other);

class Lane {
public:
  Lane(const registry::AllotmentRow& row, std::string file);

  // The records of whole cycles that no other call has, in order. False: a unit is in an earlier
  // call, too, so only all records together tell what became of it, and this lane is good for
  // nothing more.
  bool take(const std::vector<format::LogRecord>& records);

  // `whole`: no record of the log is missing. Moves the account out.
  AllotmentAccount finish(bool whole);

  const std::vector<Problem>& of_records() const { return of_records_; } // as they were taken
  // Behind finish(): of the allotment.
  const std::vector<Problem>& of_units() const { return of_units_; }
  const std::map<std::string, std::uint64_t>& failures() const { return failures_; } // tries

private:
  // Where a board sat: session, cycle, slot.
  using Board = std::tuple<std::uint32_t, std::uint32_t, std::uint8_t>;
  struct Attempt {
    bool begun = false;
    std::string outcome; // empty: no end is known
  };
  struct Work { // on one unit
    std::set<Board> boards;
    std::map<std::pair<Board, std::uint8_t>, Attempt> tries;
    bool contradicts = false; // its records don't agree: what became of it nobody knows
  };

  void take(const format::LogRecord& r);
  bool place_of(const format::LogRecord& r, std::uint64_t& unit);
  void count_contact(const Board& board, const format::LogRecord& r);
  bool close_cycles();
  void look_for_places_with_two_serials();
  void look_at(std::uint64_t unit, Work& work);
  void look_at_runs(std::uint64_t unit, Work& work);
  void keep(std::uint64_t unit, Unit found);
  static Unit unit_of(const Work& work);
  std::string name(std::uint64_t unit) const;
  void problem(std::vector<Problem>& list, const char* code, std::string what) const;

  const registry::AllotmentRow& row_;
  std::string file_;
  AllotmentAccount account_;
  std::uint64_t boards_before_ = 0; // without serials: in earlier cycles
  std::uint64_t works_before_ = 0;
  std::set<std::uint64_t> beyond_; // units past the quota
  std::vector<Problem> of_records_, of_units_;
  std::vector<Problem> of_places_;
  std::vector<std::pair<std::uint64_t, Problem>> of_single_units_;
  std::map<std::string, std::uint64_t> failures_;

  // Of the cycles at hand
  std::map<std::uint64_t, Work> works_;              // by the unit's place in the allotment
  std::map<Board, std::uint64_t> boards_;            // without serials: the unit of each board
  std::map<Board, std::set<std::uint64_t>> serials_; // with them: the ordinals of each board
};

} // namespace cardseal::runlog
