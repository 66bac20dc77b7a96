// Inside this module: fills the sheet that the margins are read from.
#pragma once

#include "supply/inputs.h"
#include "supply/quantity.h"

namespace cardseal::supply {

// The givens, the path, then each phase's voltages, then currents and times. `in` is in range.
Sheet worst_case_sheet(const Inputs& in);

// The givens, what the board's own supply makes at the device, then the signals. `in` is in range.
Sheet own_sheet(const OwnInputs& in);

} // namespace cardseal::supply
