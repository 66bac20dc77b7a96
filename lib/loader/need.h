// One numbered need, as trust/checks.h has it, for code that asks for one thing at a time.
#pragma once

#include "trust/checks.h"

namespace cardseal::loader {

inline Outcome need(bool good, Fault fault, std::uint32_t position = 0, std::uint16_t item = 0) {
  return trust::Checks(item).need(good, fault, position).outcome();
}

} // namespace cardseal::loader
