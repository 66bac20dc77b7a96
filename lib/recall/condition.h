// What a recall asks for: all of its conditions together.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "diag/error.h"

namespace cardseal::recall {

// Those up to `work_class` are known of a whole card, from register and package; the others stand
// in the run log, unit by unit, as a station wrote them or an operator entered them.
enum class Key : std::uint8_t {
  package,   // "sha256:..." of the manifest
  firmware,  // 64 hex digits, SHA-256 of the firmware file
  deviation, // its number
  signed_by, // a public key that signed the package off, 64 hex digits
  product,
  station,
  work_order,
  card, // 16 hex digits
  date_code,
  work_class,
  slot, // 1 to 32
  session,
  fixture,
  reel,
  panel,
  shift,
  date, // as entered at the station: a day, or FROM..TO, both included
};
inline constexpr std::array<std::string_view, 17> key_words{
    "package",    "firmware", "deviation", "signed-by", "product", "station",
    "work-order", "card",     "date-code", "class",     "slot",    "session",
    "fixture",    "reel",     "panel",     "shift",     "date"};

constexpr bool is_in_log(Key key) {
  return key >= Key::slot;
}

struct Condition {
  Key key = Key::package;
  std::string value; // log words in capitals, as logs have them
  std::string to;    // a date's last day; else empty
};

// YYYY-MM-DD: days of this form compare as text.
bool is_day(std::string_view text);

// KEY=VALUE. Errors of kind usage: recall-form, with what would be right.
Try<Condition> parse_condition(const std::string& text);

// "slot=3 and date=2026-03-01..2026-03-05"
std::string spelled(const std::vector<Condition>& conditions);

} // namespace cardseal::recall
