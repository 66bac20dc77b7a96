#include "commands_serial.h"
#include "serial/week.h"

namespace cardseal::tool {

Ran run_serial_week(const SerialWeekOptions& options) {
  Utc noon;
  if (!parse_utc(options.day + "T12:00:00Z", noon)) {
    return Unexpected(usage_error("this is no day", options.day, "like 2027-01-01"));
  }
  const std::optional<serial::Week> week = serial::week_of(noon.year, noon.month, noon.day);
  if (!week) {
    return Unexpected(usage_error("this is no day", options.day, "a year from 0001"));
  }
  say(serial::date_code_of(*week));
  return 0;
}

} // namespace cardseal::tool
