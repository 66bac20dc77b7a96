// The numbers of a calculation as people read and seal them: each with its unit at the end of its
// id, the formula that gives it, and the ids that the formula uses. A formula's text is all that is
// needed to compute a value again from the given ones.
//
//   formula  = sum of products of ids, whole numbers and functions; spaces around + - * /
//   function = min(a, b)  max(a, b)  ln(x)  up(x): to a whole number  most(id), least(id): of all
//   phases
//
// `-` inside an id has no spaces. Values are whole: what a formula gives is rounded against the
// user, upwards where more is worse and downwards where less is.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

namespace cardseal::supply {

enum class Phase : std::uint8_t { all, program, erase, verify, verify_low, verify_high };
inline constexpr std::array<std::string_view, 6> phase_words{"all",    "program",    "erase",
                                                             "verify", "verify-low", "verify-high"};

struct Quantity {
  std::string_view id; // lower-case words joined by '-', the unit last; static storage
  Phase phase = Phase::all;
  std::optional<std::int64_t> value; // none: it never comes to an end
  std::string_view formula;          // empty: given; static storage
};

using Sheet = std::vector<Quantity>; // in the order of the calculation

// The one of that phase, else the one of all phases; null when there is neither.
const Quantity* find(const Sheet& sheet, std::string_view id, Phase phase);

// The ids in a formula, in its order, each once.
std::vector<std::string_view> ids_in(std::string_view formula);

// The given ids that a formula rests on, through every formula between, in the sheet's order.
std::vector<std::string_view> givens_of(const Sheet& sheet, std::string_view formula);

// A given value outside what the calculation takes.
struct OutOfRange {
  std::string_view id;
  std::int64_t found = 0;
  std::int64_t least = 0;
  std::int64_t most = 0;
};

struct Given {
  std::string_view id;
  Phase phase = Phase::all;
  std::int64_t value = 0;
  std::int64_t least = 0;
  std::int64_t most = 0;
};

std::optional<OutOfRange> first_out_of_range(const std::vector<Given>& givens);

} // namespace cardseal::supply
