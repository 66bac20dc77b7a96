// What freestanding code answers: done, or a numbered reason with the place. The same numbers are
// shown by stations, printed by the desk, and listed in lib/trust/REASONS.md.
#pragma once

#include <cstdint>

#include "base/fault.h"

namespace cardseal {

struct [[nodiscard]] Outcome {
  Fault fault = Fault::none;
  std::uint16_t item = 0;     // which one of several (sign-off, package, file), from 0
  std::uint32_t position = 0; // line of a text (from 1), offset in a container, sector of a card

  constexpr bool ok() const { return fault == Fault::none; }
};

inline constexpr Outcome done{};

constexpr Outcome refuse(Fault fault, std::uint32_t position = 0, std::uint16_t item = 0) {
  return {fault, item, position};
}

} // namespace cardseal
