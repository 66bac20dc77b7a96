// Resistance of copper wire, in whole micro-ohms, rounded up.
//
// Copper: annealed, 0.017241 ohm mm2/m at 20 degrees Celsius, 0.00393 per kelvin (IEC 60028).
// Gauge n: 0.127 mm * 92 ^ ((36 - n) / 39) in diameter (ASTM B258). Solid round wire; for a strand,
// state the area of copper from its data sheet instead of a gauge.
#pragma once

#include <array>
#include <cstdint>

#include "base/result.h"
#include "supply/quantity.h"

namespace cardseal::supply {

inline constexpr std::int64_t copper_uohm_mm2_per_m = 17'241; // at 20 degrees
inline constexpr std::int64_t copper_rise_a_kelvin = 393;     // of 100,000 at 20 degrees

struct Gauge {
  std::uint32_t awg;
  std::uint32_t area_um2;   // rounded down
  std::uint32_t uohm_per_m; // at 20 degrees, rounded up from the exact area
};

inline constexpr std::array<Gauge, 15> gauges{{
    {20, 517'619, 33'309},
    {21, 410'490, 42'001},
    {22, 325'533, 52'963},
    {23, 258'160, 66'785},
    {24, 204'730, 84'214},
    {25, 162'358, 106'191},
    {26, 128'756, 133'905},
    {27, 102'108, 168'851},
    {28, 80'975, 212'917},
    {29, 64'216, 268'483},
    {30, 50'926, 338'550},
    {31, 40'386, 426'904},
    {32, 32'027, 538'316},
    {33, 25'399, 678'804},
    {34, 20'142, 855'956},
}};

const Gauge* find_gauge(std::uint32_t awg); // null when it is not 20 to 34

inline constexpr std::int64_t least_area_um2 = 10'000;
inline constexpr std::int64_t most_area_um2 = 10'000'000;
inline constexpr std::int64_t most_uohm_per_m = 1'724'100; // of the least area
inline constexpr std::int64_t most_length_mm = 100'000;
inline constexpr std::int64_t least_wire_c = -40;
inline constexpr std::int64_t most_wire_c = 125;

// At 20 degrees, of a conductor of that area (0.01 to 10 mm2).
Result<std::uint32_t, OutOfRange> uohm_per_m_of(std::int64_t area_um2);

// One wire, one way: length * resistance a metre * (1 + 0.00393 * (temperature - 20)). Length 0 to
// 100 m, 0 to 1.7241 ohm a metre, -40 to 125 degrees.
Result<std::int64_t, OutOfRange> wire_uohm(std::int64_t length_mm, std::int64_t uohm_per_m,
                                           std::int64_t wire_c);

inline constexpr std::string_view wire_formula =
    "cable-length-mm * cable-uohm-per-m * (100000 + 393 * (cable-c - 20)) / 100000000";

} // namespace cardseal::supply
