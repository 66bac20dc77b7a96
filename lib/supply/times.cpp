#include "supply/times.h"

#include "supply/exact.h"

namespace cardseal::supply {
namespace {

constexpr unsigned fraction_bits = 24;
constexpr std::uint64_t one = std::uint64_t{1} << 31; // the fixed point of a ratio from 1 to 2
constexpr std::int64_t ln2_billionths = 693'147'181;  // 0.69314718055..., rounded up

// log2(ratio / one) in 2^-24, rounded up; one <= ratio < 2 * one. Squaring doubles the logarithm,
// so that each overflow past 2 is its next binary digit. Every step rounds up.
std::int64_t log2_fraction(std::uint64_t ratio) {
  if (ratio == one) {
    return 0;
  }
  std::int64_t digits = 0;
  for (unsigned bit = 0; bit < fraction_bits; ++bit) {
    ratio = divide_up(ratio * ratio, one);
    digits *= 2;
    if (ratio >= 2 * one) {
      ratio = divide_up(ratio, std::uint64_t{2});
      digits += 1;
    }
  }
  return digits + 1;
}

std::optional<OutOfRange> bad_capacitance(std::int64_t capacitance_nf) {
  return first_out_of_range(
      {{"capacitance-nf", Phase::all, capacitance_nf, 0, most_capacitance_nf}});
}

} // namespace

std::int64_t ln_millionths_up(std::int64_t from, std::int64_t to) {
  if (from <= to) {
    return 0;
  }
  std::int64_t whole = 0;
  while (from >= 2 * to) {
    to *= 2;
    ++whole;
  }
  std::uint64_t ratio =
      divide_up(static_cast<std::uint64_t>(from) * one, static_cast<std::uint64_t>(to));
  if (ratio == 2 * one) {
    ratio = one;
    ++whole;
  }
  const std::int64_t log2 = (whole << fraction_bits) + log2_fraction(ratio);
  return scaled_up(log2, ln2_billionths, std::int64_t{1000} << fraction_bits);
}

Result<Time, OutOfRange> charge_us(std::int64_t capacitance_nf, std::int64_t to_uv,
                                   std::int64_t limit_ua, std::int64_t drawn_ua) {
  if (const auto bad = bad_capacitance(capacitance_nf)) {
    return Unexpected(*bad);
  }
  if (const auto bad = first_out_of_range({{"charge-to-uv", Phase::all, to_uv, 0, most_uv},
                                           {"limit-ua", Phase::all, limit_ua, 0, most_ua},
                                           {"drawn-ua", Phase::all, drawn_ua, 0, most_ua}})) {
    return Unexpected(*bad);
  }
  if (drawn_ua >= limit_ua) {
    return Time{};
  }
  constexpr std::int64_t ns_a_us = 1000; // nF * uV / uA is ns
  return Time{quotient_up(product(capacitance_nf, to_uv), product(limit_ua - drawn_ua, ns_a_us))};
}

Result<Time, OutOfRange> discharge_us(std::int64_t capacitance_nf, std::int64_t mohm,
                                      std::int64_t from_uv, std::int64_t to_uv) {
  if (const auto bad = bad_capacitance(capacitance_nf)) {
    return Unexpected(*bad);
  }
  if (const auto bad =
          first_out_of_range({{"discharge-mohm", Phase::all, mohm, 1, most_discharge_mohm},
                              {"discharge-from-uv", Phase::all, from_uv, 0, most_uv},
                              {"discharge-to-uv", Phase::all, to_uv, 0, most_uv}})) {
    return Unexpected(*bad);
  }
  if (from_uv <= to_uv || capacitance_nf == 0) {
    return Time{0};
  }
  if (to_uv == 0) {
    return Time{};
  }
  const std::int64_t tau_ns = quotient_up(product(mohm, capacitance_nf), 1000);
  constexpr std::int64_t millionths_of_ns_a_us = 1'000'000'000;
  return Time{scaled_up(tau_ns, ln_millionths_up(from_uv, to_uv), millionths_of_ns_a_us)};
}

} // namespace cardseal::supply
