// What goes wrong in a simulated run, from a text file: one event a line, '#' begins a comment.
//
//   tries 2                         of a board in a cycle, 1 to 3; else 2
//   seed 7                          of what happens by chance
//   log-records 24                  as if the card's log had room for no more
//   log-damaged 14                  the sector of the log's 14th record takes no write
//   slot 2 off                      switched off on the floor, though the card enables it
//   slot 4 loose-contact 40         40 of 100 tries of this slot find no contact
//   cycle 2 slot 1 no-board         nobody put one in
//   cycle 2 slot 3 verify-error 0x0120
//   cycle 2 slot 3 wrong-device | wrong-revision | over-current | locked
//   cycle 2 slot 3 other-number     a board that comes back, and is not one that the card names
//   cycle 3 power-cut 5             in the middle of the fifth write of memory, note or card
//   cycle 4 card-pulled 2           the card is gone from its second write on
//
// Cycles count from 1 over the whole run.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "io/system.h"

namespace cardseal::station_sim {

enum class BoardFault : std::uint8_t {
  no_board,
  verify_error,
  wrong_device,
  wrong_revision, // of the silicon
  over_current,
  locked,
  other_number,
};

struct BoardEvent {
  std::uint32_t cycle = 1;
  std::uint8_t slot = 1;
  BoardFault fault = BoardFault::no_board;
  std::uint64_t address = 0; // of a verify error
};

struct Cut {
  std::uint32_t cycle = 1;
  bool card_only = false;  // the card was pulled; else the power went
  std::uint32_t write = 1; // the one that does not come through
};

struct Scenario {
  std::uint8_t tries = 2;
  std::uint64_t seed = 1;
  std::optional<std::uint32_t> log_records;
  std::optional<std::uint32_t> log_damaged;    // a record, from 1
  std::set<std::uint8_t> off;                  // slots
  std::map<std::uint8_t, std::uint32_t> loose; // slot to tries of 100
  std::vector<BoardEvent> boards;
  std::vector<Cut> cuts;

  const BoardEvent* board(std::uint32_t cycle, std::uint8_t slot) const; // null: nothing
  const Cut* cut(std::uint32_t cycle) const;
  // What a station finds before the first byte goes to a board, as the run log has it; empty:
  // nothing.
  std::string found(std::uint32_t cycle, std::uint8_t slot, std::uint8_t attempt) const;
  // By chance, the same for the same seed.
  bool contact(std::uint32_t cycle, std::uint8_t slot, std::uint8_t attempt) const;
};

bool parse_address(const std::string& text, std::uint64_t& out); // 0x and hex digits, or decimal

// Errors name the line: scenario-line.
Try<Scenario> read_scenario(io::System& system, const std::string& file);

} // namespace cardseal::station_sim
