// What the supply calculation starts from: plain numbers of one release, board, device and station.
// Every range below is checked; a value outside is answered with its id and both limits.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "supply/quantity.h"

namespace cardseal::supply {

// What a station sets, and what a board draws at the most, in one phase.
struct PhaseSetting {
  Phase phase = Phase::program; // not `all`
  std::uint32_t set_mv = 0;     // 1 to 60,000
  std::uint32_t load_ua = 0;    // the most that one board draws, 0 to 100,000,000
};

struct StationSide {
  std::uint32_t tolerance_mv = 0;       // 0 to 10,000, and
  std::uint32_t tolerance_ppm = 0;      // 0 to 500,000 of the set value: both together
  std::uint32_t slots_on = 1;           // 1 to 32
  std::uint32_t slot_limit_ua = 0;      // 0 to 100,000,000
  std::uint32_t all_limit_ua = 0;       // of all slots together, from slot_limit_ua
  std::uint32_t shared_return_uohm = 0; // carries the current of all slots; 0 to 100,000,000
  std::uint32_t settle_us = 0;          // between switching on and the first signal, 0 to 10^9
  std::uint32_t wait_us = 0; // between switching off and what needs it discharged, 0 to 10^9
  std::optional<std::uint32_t> bleed_ohm; // 1 to 1,000,000; none: nothing discharges a board
  std::uint32_t removal_mv = 0;           // at or below which boards may be taken off, 1 to 60,000
};

// What the lines between station and board stand at when they are high.
struct Signals {
  bool follows_supply = true; // as high as the station's supply, or the board's own; else fixed:
  std::uint32_t set_mv = 0;   // 1 to 60,000
  std::uint32_t tolerance_mv = 0; // 0 to 10,000
};

struct Cable {                  // one wire to the board and one like it back
  std::uint32_t length_mm = 0;  // one way, 0 to 100,000
  std::uint32_t uohm_per_m = 0; // at 20 degrees Celsius (supply/copper.h), 0 to 1,724,100
  std::int32_t wire_c = 20;     // the hottest that it gets, -40 to 125
};

struct Contacts {
  std::uint32_t there = 0;     // in series on the way to the board, 0 to 8
  std::uint32_t back = 0;      // and on the way back, 0 to 8
  std::uint32_t new_uohm = 0;  // of each, 0 to 100,000,000
  std::uint32_t worn_uohm = 0; // of each at the end of its life, from new_uohm
};

enum class EntryKind : std::uint8_t {
  at_device,        // what stands at the board's entry stands at the device
  before_diode,     // a diode or switch takes drop_least to drop_most of it
  before_regulator, // a linear regulator makes output_least to output_most of it while the entry is
                    // drop_most above; below that it follows the entry
};

struct BoardSide {
  EntryKind entry = EntryKind::at_device;
  std::uint32_t entry_min_mv = 0;    // 0 to 60,000
  std::uint32_t entry_max_mv = 0;    // above it the board is damaged; from entry_min_mv to 60,000
  std::uint32_t drop_least_mv = 0;   // without current; before_diode only, 0 to 10,000
  std::uint32_t drop_most_mv = 0;    // at full load; not at_device; from drop_least_mv to 10,000
  std::uint32_t output_least_mv = 0; // before_regulator only, 0 to 60,000
  std::uint32_t output_most_mv = 0;  // before_regulator only, from output_least_mv to 60,000
  std::uint32_t start_ua = 0;        // drawn while its capacitance charges, 0 to 100,000,000
  std::uint32_t capacitance_nf = 0;  // at the entry, with its tolerance; 0 to 100,000,000
  std::optional<std::uint32_t> bleed_ohm; // across it, 1 to 1,000,000; none: the board has none
  std::uint32_t signal_over_mv = 0; // what a line may stand above the device's supply, 0 to 60,000
  std::uint32_t signal_min_mv = 0;  // lines below it need not be taken for high
  std::uint32_t signal_max_mv = 0;  // lines above it are damaged; 1 to 60,000
};

// operating_min <= program_min <= program_max <= operating_max <= absolute_max <= 60,000, and so
// for erase: a device that may be programmed at a voltage also works at it.
struct DeviceSide {
  std::uint32_t operating_min_mv = 0;
  std::uint32_t operating_max_mv = 0;
  std::uint32_t program_min_mv = 0;
  std::uint32_t program_max_mv = 0;
  std::uint32_t erase_min_mv = 0;
  std::uint32_t erase_max_mv = 0;
  std::uint32_t absolute_max_mv = 0;
};

struct Inputs {
  StationSide station;
  Signals signals;
  Cable cable;
  Contacts contacts;
  BoardSide board;
  DeviceSide device;
  std::vector<PhaseSetting> phases; // 1 to 5, ascending, no phase twice
};

// Every given value with its range. Those that the entry's kind does not use are left out.
std::vector<Given> givens(const Inputs& in);

std::optional<OutOfRange> out_of_range(const Inputs& in);

// A board that supplies itself: no cable, no station's tolerance.
struct OwnInputs {
  Signals signals; // of the station that works on it
  BoardSide board; // entry_min_mv to entry_max_mv: what its own supply gives at the entry
  DeviceSide device;
  std::vector<Phase> phases; // 1 to 3 of program, erase and verify, ascending
};

std::vector<Given> givens(const OwnInputs& in);

std::optional<OutOfRange> out_of_range(const OwnInputs& in);

} // namespace cardseal::supply
