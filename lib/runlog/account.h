// What became of the units that were given out: the records of all logs laid together, unit by
// unit, against the allotments of a register. A failed one that was begun again is in doubt until
// its end is known. Reading a log again, or another copy of it, changes nothing.
//
// A unit is good only when its records agree: a serial on two boards, a board with two serials, two
// ends of one try and work on a board that was good already leave it in doubt.
//
// A record belongs to the allotment of its card, station and enrolment, on a card of several to the
// one in whose share of the log it stands, and to the unit that its ordinal names. Without serials, boards are told apart by session, cycle and slot, and a unit is
// the place of its board among them: a log that lacks records would number them otherwise, so the
// results of such an allotment are kept only from a log that is whole.
#pragma once

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

struct AllotmentAccount {
  registry::AllotmentRow row;
  std::vector<Unit> units; // as many as were allotted
  bool keepable = true;    // false: which unit is which is not sure, so the register takes none
  std::array<std::uint64_t, unit_state_words.size()> counts{};

  std::uint64_t count(UnitState state) const { return counts[static_cast<std::size_t>(state)]; }
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
};

struct Account {
  std::vector<LogFile> logs;
  std::vector<AllotmentAccount> allotments; // those that some log is about, in the register's order
  std::vector<Failure> failures;            // the most frequent first
  std::vector<Untold> untold;               // in the register's order
  std::vector<Problem> problems;
};

Account reconcile(std::vector<LogFile> logs, const std::vector<registry::AllotmentRow>& rows);

// One bit a unit, bit 0 of byte 0 the first, as a register takes them.
struct Bits {
  io::Bytes begun;
  io::Bytes good;
};
Bits bits_of(const AllotmentAccount& account);

} // namespace cardseal::runlog
