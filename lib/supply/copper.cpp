#include "supply/copper.h"

#include <algorithm>

#include "supply/exact.h"

namespace cardseal::supply {

const Gauge* find_gauge(std::uint32_t awg) {
  const auto* at =
      std::find_if(gauges.begin(), gauges.end(), [&](const Gauge& row) { return row.awg == awg; });
  return at == gauges.end() ? nullptr : at;
}

Result<std::uint32_t, OutOfRange> uohm_per_m_of(std::int64_t area_um2) {
  if (const auto bad = first_out_of_range(
          {{"cable-area-um2", Phase::all, area_um2, least_area_um2, most_area_um2}})) {
    return Unexpected(*bad);
  }
  constexpr std::int64_t um2_a_mm2 = 1'000'000;
  return static_cast<std::uint32_t>(
      quotient_up(product(copper_uohm_mm2_per_m, um2_a_mm2), area_um2));
}

Result<std::int64_t, OutOfRange> wire_uohm(std::int64_t length_mm, std::int64_t uohm_per_m,
                                           std::int64_t wire_c) {
  if (const auto bad =
          first_out_of_range({{"cable-length-mm", Phase::all, length_mm, 0, most_length_mm},
                              {"cable-uohm-per-m", Phase::all, uohm_per_m, 0, most_uohm_per_m},
                              {"cable-c", Phase::all, wire_c, least_wire_c, most_wire_c}})) {
    return Unexpected(*bad);
  }
  const std::int64_t heat = sum(100'000, product(copper_rise_a_kelvin, wire_c - 20));
  return quotient_up(product(product(length_mm, uohm_per_m), heat), 100'000'000);
}

} // namespace cardseal::supply
