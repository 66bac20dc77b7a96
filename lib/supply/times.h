// How long a board's capacitance takes to charge and to discharge, in whole microseconds, rounded
// up. Ranges: capacitance 0 to 100,000,000 nF (0.1 F), voltages 0 to 200,000,000 uV, currents 0 to
// 100,000,000 uA, resistance 1 to 2,000,000,000 milliohm.
#pragma once

#include <cstdint>
#include <optional>

#include "base/result.h"
#include "supply/quantity.h"

namespace cardseal::supply {

inline constexpr std::int64_t most_capacitance_nf = 100'000'000;
inline constexpr std::int64_t most_uv = 200'000'000;
inline constexpr std::int64_t most_ua = 100'000'000;
inline constexpr std::int64_t most_discharge_mohm = 2'000'000'000;

using Time = std::optional<std::int64_t>; // microseconds; none: it never comes to an end

// From 0 to `to_uv` under a current limit of which the board draws a part all the while:
// C * V / (limit - drawn). Never when the board draws the limit or more.
Result<Time, OutOfRange> charge_us(std::int64_t capacitance_nf, std::int64_t to_uv,
                                   std::int64_t limit_ua, std::int64_t drawn_ua);

// Through a resistance alone, the board drawing nothing: R * C * ln(from / to). Never down to 0.
Result<Time, OutOfRange> discharge_us(std::int64_t capacitance_nf, std::int64_t mohm,
                                      std::int64_t from_uv, std::int64_t to_uv);

// ln(from / to) in millionths: never less than the exact value and at most 2 above it. 0 when
// from <= to; 1 <= to; both at most most_uv.
std::int64_t ln_millionths_up(std::int64_t from, std::int64_t to);

} // namespace cardseal::supply
