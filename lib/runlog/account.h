// What became of the units that were given out: the records of all logs laid together, unit by
// unit, against the allotments of a register. A failed one that was begun again is in doubt until
// its end is known. Reading a log again, or another copy of it, changes nothing.
//
// A unit is good only when its records agree: a serial on two boards, a board with two serials, two
// ends of one try and work on a board that was good already leave it in doubt.
//
// A record belongs to the allotment of its card, station and enrolment, on a card of several to the
// one in whose share of the log it stands, and to the unit that its ordinal names. Without serials,
// boards are told apart by session, cycle and slot, and a unit is the place of its board among
// them: a log that lacks records would number them otherwise, so the results of such an allotment
// are kept only from a log that is whole.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "register/types.h"
#include "runlog/log_file.h"

namespace cardseal::runlog {

enum class UnitState : std::uint8_t {
  unused,
  in_doubt, // begun, and how it ended nobody wrote down, or it was written down in two ways
  failed,
  good,
};
inline constexpr std::array<std::string_view, 4> unit_state_words{"unused", "in-doubt", "failed",
                                                                  "good"};

struct Unit {
  UnitState state = UnitState::unused;
  bool first_pass = false; // good at the first try
  std::uint8_t slot = 0;   // 0: unused
  std::uint32_t session = 0;
  std::string outcome; // of the last try that ended
};

struct OpenUnit {          // in doubt or failed: somebody has to look for it
  std::uint64_t place = 0; // in the allotment, from 0
  Unit unit;
};

struct GroupSums { // of units whose end is known
  std::uint64_t units = 0;
  std::uint64_t first_pass = 0;
  std::uint64_t good = 0;

  void add(const Unit& unit) {
    ++units;
    first_pass += unit.first_pass ? 1 : 0;
    good += unit.state == UnitState::good ? 1 : 0;
  }
  void add(const GroupSums& other) {
    units += other.units;
    first_pass += other.first_pass;
    good += other.good;
  }
};

// One bit a unit, bit 0 of byte 0 the first, as a register takes them.
struct Bits {
  io::Bytes begun;
  io::Bytes good;
};

struct FixtureUse {
  std::map<unsigned, std::uint64_t> boards; // that were put in, by slot
  std::set<std::uint32_t> sessions;
};

struct AllotmentAccount {
  registry::AllotmentRow row;
  Bits bits;
  std::vector<OpenUnit> open; // ascending by place
  bool keepable = true;       // false: which unit is which is not sure, so the register takes none
  std::array<std::uint64_t, unit_state_words.size()> counts{};
  GroupSums all;
  std::map<unsigned, GroupSums> slots;
  std::map<std::uint32_t, GroupSums> sessions;
  std::map<std::string, FixtureUse> fixtures; // by its name; empty: not entered

  std::uint64_t count(UnitState state) const { return counts[static_cast<std::size_t>(state)]; }
  UnitState state(std::uint64_t place) const; // below the units allotted
};

// What does not fit: codes card-unknown, station-unknown, unit-outside, over-quota, serial-twice,
// place-twice, good-again, card-copied, record-contradicts, record-missing, record-spoiled,
// record-repeated, log-short, not-kept.
struct Problem {
  std::string code;
  std::string file; // one of them
  std::string what; // a sentence
};

struct Failure { // what went wrong, over all tries
  std::string outcome;
  std::uint64_t tries = 0;
};

// Of the same work orders: given out, and no record here is about it.
struct Untold {
  registry::AllotmentRow row;
  bool blank_log = false; // its card's log is here, and has no record of it
  bool whole_log = false; // and that log is whole
};

struct LogSummary {
  std::string file;
  format::CardId card{};
  std::uint64_t records = 0;
  bool whole = false;
};

struct Account {
  std::vector<LogSummary> logs;
  std::vector<AllotmentAccount> allotments; // those that some log is about, in the register's order
  std::vector<Failure> failures;            // the most frequent first
  std::vector<Untold> untold;               // in the register's order
  std::vector<Problem> problems;
};

Account reconcile(const std::vector<LogFile>& logs,
                  const std::vector<registry::AllotmentRow>& rows);

// The same from files. A card's only log whose cycles come one after the other, as stations write
// them, is read in one pass that keeps two bits a unit, and the units and records that somebody has
// to look for. Other logs are kept in memory, card by card. Errors: those of read_log.
Try<Account> reconcile_files(io::System& system, const std::vector<std::string>& files,
                             const std::vector<registry::AllotmentRow>& rows);

} // namespace cardseal::runlog
