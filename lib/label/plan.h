// Which label goes onto the board in which slot of which cycle, as the station will give the
// numbers: in each cycle one to every slot that holds a board, the lowest slot first, in the order
// of cycles (loader/station.h). A plan takes every enabled slot as filled in every cycle: a failed
// board spends its number and moves nothing, but a slot that stays empty, or that the station
// stopped, moves every number behind it. What really was tells the run log (label/scan.h).
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "package/package.h"
#include "register/types.h"

namespace cardseal::label {

struct Spot {
  std::uint64_t cycle = 1; // of the card's work on this package, over all sessions, from 1
  unsigned slot = 1;
  friend auto operator<=>(const Spot&, const Spot&) = default;
};

// Unit 0 is the allotment's first.
Spot planned_spot(const registry::AllotmentRow& row, std::uint64_t unit);

// Units that follow one another, and of which `fits` holds.
std::vector<registry::Range> ranges_where(std::uint64_t units,
                                          const std::function<bool(std::uint64_t)>& fits);

// RFC 4180: a header, then a line for each of these units: cycle, slot, label, card, work order.
std::string csv_head();
std::string csv_lines(const package::Package& package, const registry::AllotmentRow& row,
                      const std::vector<registry::Range>& units);

} // namespace cardseal::label
