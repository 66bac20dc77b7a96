// Inside this module: what each margin is read from.
#pragma once

#include "supply/margins.h"

namespace cardseal::supply {

enum class Side : std::uint8_t { at_most, at_least };

// What a margin is read from: a value of the sheet, a limit that is given, and the unit of the
// value in units of the limit.
struct Kind {
  std::string_view id;
  Unit unit;
  Side side;
  Standing when_missed;
  std::string_view value;
  std::string_view value_new_contacts; // empty: contacts do not enter
  std::string_view limit;
  std::int64_t units_a_limit;
  std::string_view formula;
};

constexpr Kind device_below(std::string_view id, Standing when_missed, std::string_view limit,
                            std::string_view formula) {
  return {id,   Unit::microvolts, Side::at_most, when_missed, "device-high-uv", "", limit,
          1000, formula};
}

constexpr Kind device_above(std::string_view id, std::string_view limit, std::string_view formula) {
  return {id,
          Unit::microvolts,
          Side::at_least,
          Standing::misses,
          "device-low-uv",
          "device-low-new-uv",
          limit,
          1000,
          formula};
}

inline constexpr Kind absolute_max =
    device_below("device-absolute-max", Standing::harms, "absolute-max-mv",
                 "absolute-max-mv * 1000 - device-high-uv");

struct Range {
  Kind min;
  Kind max;
};

inline constexpr Range program_range{
    device_above("device-program-min", "program-min-mv", "device-low-uv - program-min-mv * 1000"),
    device_below("device-program-max", Standing::misses, "program-max-mv",
                 "program-max-mv * 1000 - device-high-uv")};

inline constexpr Range erase_range{
    device_above("device-erase-min", "erase-min-mv", "device-low-uv - erase-min-mv * 1000"),
    device_below("device-erase-max", Standing::misses, "erase-max-mv",
                 "erase-max-mv * 1000 - device-high-uv")};

inline constexpr Range operating_range{device_above("device-operating-min", "operating-min-mv",
                                                    "device-low-uv - operating-min-mv * 1000"),
                                       device_below("device-operating-max", Standing::misses,
                                                    "operating-max-mv",
                                                    "operating-max-mv * 1000 - device-high-uv")};

inline constexpr Range entry_range{
    {"board-entry-min", Unit::microvolts, Side::at_least, Standing::misses, "entry-low-uv",
     "entry-low-new-uv", "entry-min-mv", 1000, "entry-low-uv - entry-min-mv * 1000"},
    {"board-entry-max", Unit::microvolts, Side::at_most, Standing::harms, "station-high-uv", "",
     "entry-max-mv", 1000, "entry-max-mv * 1000 - station-high-uv"}};

inline constexpr Kind slot_current{"slot-current",
                                   Unit::microamps,
                                   Side::at_most,
                                   Standing::misses,
                                   "load-ua",
                                   "",
                                   "slot-limit-ua",
                                   1,
                                   "slot-limit-ua - load-ua"};
inline constexpr Kind all_current{"all-current",
                                  Unit::microamps,
                                  Side::at_most,
                                  Standing::misses,
                                  "all-ua",
                                  "",
                                  "all-limit-ua",
                                  1,
                                  "all-limit-ua - all-ua"};
inline constexpr Kind charge_time{"charge-time",
                                  Unit::microseconds,
                                  Side::at_most,
                                  Standing::misses,
                                  "charge-us",
                                  "",
                                  "settle-us",
                                  1,
                                  "settle-us - charge-us"};
inline constexpr Kind discharge_verify_low{"discharge-verify-low",
                                           Unit::microseconds,
                                           Side::at_most,
                                           Standing::misses,
                                           "discharge-verify-low-us",
                                           "",
                                           "wait-us",
                                           1,
                                           "wait-us - discharge-verify-low-us"};
inline constexpr Kind discharge_removal{"discharge-removal",
                                        Unit::microseconds,
                                        Side::at_most,
                                        Standing::misses,
                                        "discharge-removal-us",
                                        "",
                                        "wait-us",
                                        1,
                                        "wait-us - discharge-removal-us"};

inline constexpr Kind charge_verify_high{"charge-verify-high",
                                         Unit::microseconds,
                                         Side::at_most,
                                         Standing::misses,
                                         "charge-verify-high-us",
                                         "",
                                         "settle-us",
                                         1,
                                         "settle-us - charge-verify-high-us"};
inline constexpr Kind signal_max{"signal-max",
                                 Unit::microvolts,
                                 Side::at_most,
                                 Standing::harms,
                                 "signal-high-uv",
                                 "",
                                 "signal-max-mv",
                                 1000,
                                 "signal-max-mv * 1000 - signal-high-uv"};
inline constexpr Kind signal_over{"signal-over-device",
                                  Unit::microvolts,
                                  Side::at_most,
                                  Standing::harms,
                                  "line-over-uv",
                                  "",
                                  "signal-over-mv",
                                  1000,
                                  "signal-over-mv * 1000 - line-over-uv"};
inline constexpr Kind signal_min{"signal-min",
                                 Unit::microvolts,
                                 Side::at_least,
                                 Standing::misses,
                                 "signal-low-uv",
                                 "",
                                 "signal-min-mv",
                                 1000,
                                 "signal-low-uv - signal-min-mv * 1000"};

inline const Range& device_range(Phase phase) {
  switch (phase) {
  case Phase::program:
    return program_range;
  case Phase::erase:
    return erase_range;
  default:
    return operating_range;
  }
}

} // namespace cardseal::supply
