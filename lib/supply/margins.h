// The supply calculation: what stands at the board's entry and at the device at the worst, in each
// phase, and how far that is from every limit.
//
// The worst case, always outwards:
// - High: the station's set value plus both tolerances, and no drop in cable, contacts or return,
//   since a board may draw nothing for a moment. A diode still takes its least drop.
// - Low: the set value less both tolerances, the hottest cable and worn contacts there and back
//   carrying the phase's load, and a shared return that carries the greatest load of any phase from
//   every other slot: slots need not be in the same phase.
// - Charging: to the highest value of any phase, under the smaller of a slot's limit and an equal
//   share of the limit of all.
// - Discharging: from the highest value of any phase, through the station's bleed resistance and
//   the path to it, not through a diode, and a resistor of the board's own; the board drawing
//   nothing else.
// - Rising from the low verify supply to the high one: from the lowest that stands at the entry in
//   any phase, the board drawing its load all the while.
// - Signals: a line that follows the supply is as high as the highest of any phase, at the entry
//   and not behind what stands between it and the device. Above the device's own supply stands what
//   the way to the device takes of it; a fixed level, as much as it is above the device's lowest.
//   That a line is high enough is judged of a fixed
//   level only: one that follows falls with the device's own supply.
// Voltages high up and low down to a whole microvolt, currents, resistances and times up.
//
// Not covered: what a supply does between two settings (overshoot), inductance, what a line does to
// a board without supply.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "supply/inputs.h"
#include "supply/quantity.h"

namespace cardseal::supply {

enum class Unit : std::uint8_t { microvolts, microamps, microseconds };
inline constexpr std::array<std::string_view, 3> unit_words{"uv", "ua", "us"};

enum class Standing : std::uint8_t { // from the best to the worst
  holds,                             // within the limit; at the limit is within
  misses,                            // outside what works: fails sooner or later
  never,                             // the board never starts, or never discharges
  harms,                             // above what device or board survives
};
inline constexpr std::array<std::string_view, 4> standing_words{"holds", "misses", "never",
                                                                "harms"};

struct Margin {
  std::string_view id; // static storage
  Phase phase = Phase::all;
  Unit unit = Unit::microvolts;
  std::optional<std::int64_t> value; // at the worst; none: Standing::never
  std::optional<std::int64_t>
      value_new_contacts; // of low voltages: as it is while contacts are new
  std::int64_t limit = 0;
  std::optional<std::int64_t> margin; // at least 0 when it holds; none: Standing::never
  Standing standing = Standing::holds;
  std::string_view formula; // of `margin`, over the sheet of the report; static storage
};

struct Report {
  Sheet sheet;                 // every given and every value between, in order
  std::vector<Margin> margins; // phase by phase, then those of all phases
};

// For every phase: device-absolute-max, a low and a high limit of the device for what the phase
// does (program-, erase-min and -max) and for working (operating-min and -max), board-entry-min and
// -max, slot-current, signal-over-device. For all:
// all-current, charge-time, discharge-removal, signal-max, for a fixed level signal-min, and with a
// verify at two supplies discharge-verify-low and charge-verify-high.
Result<Report, OutOfRange> calculate(const Inputs& in);

// Of a board that supplies itself: what it makes at the device, phase by phase, and the signals.
Result<Report, OutOfRange> calculate(const OwnInputs& in);

Standing worst(const Report& report);

// Behind a regulator a station's setting does not decide the device's voltage, so that verifying at
// the low or high limit shows nothing.
constexpr bool setting_reaches_device(EntryKind entry) {
  return entry != EntryKind::before_regulator;
}

} // namespace cardseal::supply
