// Arithmetic that says when the result does not fit, instead of wrapping.
#pragma once

#include <concepts>

namespace cardseal {

// Each returns false, leaving `out` untouched, when the exact result does not fit in T.
template <std::integral T>
constexpr bool add_to(T a, T b, T& out) {
  T sum{};
  if (__builtin_add_overflow(a, b, &sum)) {
    return false;
  }
  out = sum;
  return true;
}

template <std::integral T>
constexpr bool multiply_to(T a, T b, T& out) {
  T product{};
  if (__builtin_mul_overflow(a, b, &product)) {
    return false;
  }
  out = product;
  return true;
}

// a / b rounded up; b > 0. Never overflows.
template <std::unsigned_integral T>
constexpr T divide_up(T a, T b) {
  return static_cast<T>(a / b + (a % b != 0 ? 1 : 0));
}

} // namespace cardseal
