#include "serial/week.h"

#include <chrono>

namespace cardseal::serial {

std::optional<Week> week_of(std::uint32_t year, std::uint32_t month, std::uint32_t day) {
  using namespace std::chrono;
  const year_month_day date{std::chrono::year(static_cast<int>(year)), std::chrono::month(month),
                            std::chrono::day(day)};
  if (year < 1 || year > 9999 || !date.ok()) {
    return std::nullopt;
  }
  const sys_days here = date;
  const unsigned from_monday = weekday(here).iso_encoding() - 1;
  const sys_days thursday = here + days(3) - days(from_monday);
  const std::chrono::year of = year_month_day(thursday).year();
  const auto passed = thursday - sys_days(of / January / 1);
  return Week{static_cast<std::uint32_t>(static_cast<int>(of)),
              static_cast<std::uint32_t>(passed.count() / 7 + 1)};
}

std::string date_code_of(const Week& week) {
  const std::uint32_t digits[] = {week.year / 10 % 10, week.year % 10, week.number / 10,
                                  week.number % 10};
  std::string out;
  for (const std::uint32_t digit : digits) {
    out += static_cast<char>('0' + digit);
  }
  return out;
}

} // namespace cardseal::serial
