// Lets a test-only build switch one numbered check off, to show that a test notices. Without the
// definition this is a constant, and no such switch exists in the product.
#pragma once

#include "base/fault.h"

#ifdef CARDSEAL_CHECK_SWITCH
extern "C" std::uint16_t cardseal_switched_off; // defined by the test program
#endif

namespace cardseal {

#ifdef CARDSEAL_CHECK_SWITCH
inline bool switched_off(Fault fault) {
  return static_cast<std::uint16_t>(fault) == cardseal_switched_off;
}
#else
constexpr bool switched_off(Fault) {
  return false;
}
#endif

} // namespace cardseal
