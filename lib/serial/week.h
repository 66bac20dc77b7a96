// Week dates, for date codes: a week belongs to the year that has its Thursday (ISO 8601), so that
// the first days of January can lie in the last week of the year before, and the last days of
// December in the first week of the next.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace cardseal::serial {

struct Week {
  std::uint32_t year = 0;
  std::uint32_t number = 1; // 1 to 53
};

// None when there is no such day. Years 1 to 9999.
std::optional<Week> week_of(std::uint32_t year, std::uint32_t month, std::uint32_t day);
std::string date_code_of(const Week& week); // two digits of the year, two of the week: "2653"

} // namespace cardseal::serial
