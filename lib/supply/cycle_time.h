// How long a cycle and a lot take at one station. Times in whole microseconds, rounded up; the
// formulas stand with the values in the sheet.
//
// Outwards: every board takes as long as the slowest, and handling happens while nothing is
// programmed. Boards that fail are replaced by others, so that a yield below all of them means more
// boards than good ones. A lot's cycles are full but for the last.
#pragma once

#include <cstdint>

#include "base/result.h"
#include "supply/quantity.h"

namespace cardseal::supply {

enum class SlotOrder : std::uint8_t { together, one_after_another };

struct CycleInputs {
  std::uint32_t program_bytes = 0;           // to one board, 0 to 2,147,483,647
  std::uint32_t program_bytes_per_s = 1'000; // a slot, device and transfer; 1,000 to 1,000,000,000
  std::uint32_t verify_bytes = 0;            // each pass, 0 to 2,147,483,647
  std::uint32_t verify_bytes_per_s = 1'000;  // 1,000 to 1,000,000,000
  std::uint32_t verify_passes = 1;           // 0 to 3
  std::uint32_t erase_us = 0;                // 0 to 10^9
  std::uint32_t overhead_us = 0; // supply up and down, ID check, blank check, configuration, lock;
                                 // a board, 0 to 10^9
  std::uint32_t slowest_ppm = 0; // what the slowest board takes more, 0 to 1,000,000
  SlotOrder order = SlotOrder::together;
  std::uint32_t slots_on = 1;          // 1 to 32
  std::uint32_t handling_board_us = 0; // putting in and taking out, 0 to 10^9
  std::uint32_t handling_cycle_us = 0; // what each cycle takes once, 0 to 10^9
  std::uint32_t quantity = 1;          // good boards wanted, 1 to 9,999,999
  std::uint32_t yield_ppm = 1'000'000; // good ones of a million, 100,000 to 1,000,000
  std::uint32_t setup_us = 0;          // of the lot, 0 to 4,294,967,295
};

struct CycleReport {
  Sheet sheet;               // the givens, then program-us, verify-us, board-us ... lot-us
  std::int64_t board_us = 0; // the slowest; at most 20,000,000,000
  std::int64_t cycle_us = 0; // with every slot filled
  std::int64_t boards = 0;   // to be started
  std::int64_t cycles = 0;   // the last may be part filled
  std::int64_t lot_us = 0;
};

// Refuses a given outside its range, and a board that takes more than 10^10 microseconds
// (`board-us`).
Result<CycleReport, OutOfRange> cycle_time(const CycleInputs& in);

} // namespace cardseal::supply
