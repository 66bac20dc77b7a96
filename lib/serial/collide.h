// Can two ranges of units carry the same number, or the same text? Decided by arithmetic on the two
// progressions of numbers, not by going through them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "unit/unit.h"

namespace cardseal::serial {

struct UnitRange {
  unit::Serials serials;
  std::uint64_t first = 0; // ordinals, both included, within the scheme's capacity
  std::uint64_t last = 0;
};

struct Meeting { // the lowest number that both have
  std::uint64_t number = 0;
  std::uint64_t a = 0; // ordinals
  std::uint64_t b = 0;
};

// Exact: excluded numbers are left out on both sides.
std::optional<Meeting> common_number(const UnitRange& a, const UnitRange& b);

enum class TextAnswer : std::uint8_t {
  never,        // no two units, whatever their date codes and classes
  can,          // the two units of `meeting`, given the same date code and class
  not_excluded, // the texts are built too differently for arithmetic on the numbers
};

struct TextCollision {
  TextAnswer answer = TextAnswer::never;
  std::optional<Meeting> meeting; // with `can`
  std::string reason;             // one sentence, lower case
};

// When both have their number at the same place of the text, in the same digits, and checks of the
// same kind over the same characters, the answer is never `not_excluded`.
TextCollision common_text(const UnitRange& a, const UnitRange& b);

// Can a text of the scheme begin with `prefix`, or be the beginning of it? By what can stand at
// each place: false is certain.
bool can_begin_with(const unit::Serials& serials, std::string_view prefix);

} // namespace cardseal::serial
