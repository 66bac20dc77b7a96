// Whole-number arithmetic inside this module. The ranges of the inputs keep every result inside 63
// bits; a result outside is a mistake of ours, and stops the program instead of being wrong.
#pragma once

#include <cstdint>

#include "base/checked.h"

namespace cardseal::supply {

constexpr std::int64_t sum(std::int64_t a, std::int64_t b) {
  std::int64_t result = 0;
  if (!add_to(a, b, result)) {
    __builtin_trap();
  }
  return result;
}

constexpr std::int64_t product(std::int64_t a, std::int64_t b) {
  std::int64_t result = 0;
  if (!multiply_to(a, b, result)) {
    __builtin_trap();
  }
  return result;
}

// a / b rounded up; a >= 0, b > 0.
constexpr std::int64_t quotient_up(std::int64_t a, std::int64_t b) {
  return static_cast<std::int64_t>(
      divide_up(static_cast<std::uint64_t>(a), static_cast<std::uint64_t>(b)));
}

// a * b / c rounded up, where a * b alone may not fit; a, b >= 0, c > 0.
constexpr std::int64_t scaled_up(std::int64_t a, std::int64_t b, std::int64_t c) {
  return sum(product(a / c, b), quotient_up(product(a % c, b), c));
}

} // namespace cardseal::supply
