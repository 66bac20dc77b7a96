#include "runlog/statistics.h"

#include <algorithm>
#include <cmath>

#include <boost/math/distributions/hypergeometric.hpp>
#include <boost/math/distributions/normal.hpp>

namespace cardseal::runlog {
namespace {

// Two tables that are equally improbable may differ in the last digits.
constexpr double same = 1 + 1e-7;

struct Sums { // of a table of two by two
  double row, column, all;
};

// How much more probable x + 1 hits in the first row are than x.
double step_up(const Sums& s, double x) {
  return (s.row - x) * (s.column - x) / ((x + 1) * (s.all - s.row - s.column + x + 1));
}

} // namespace

Interval wilson(const Count& count, double confidence) {
  if (count.all == 0) {
    return {};
  }
  const double z = boost::math::quantile(boost::math::normal(), 0.5 + confidence / 2);
  const auto n = static_cast<double>(count.all);
  const double p = static_cast<double>(count.hits) / n;
  const double middle = p + z * z / (2 * n);
  const double half = z * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  const double scale = 1 + z * z / n;
  return {count.hits == 0 ? 0 : (middle - half) / scale,
          count.hits == count.all ? 1 : (middle + half) / scale};
}

double fisher(const Count& one, const Count& other) {
  const std::uint64_t all = one.all + other.all;
  const std::uint64_t hits = one.hits + other.hits;
  if (one.all == 0 || other.all == 0) {
    return 1;
  }
  const boost::math::hypergeometric table(
      static_cast<unsigned>(hits), static_cast<unsigned>(one.all), static_cast<unsigned>(all));
  const double seen = boost::math::pdf(table, static_cast<unsigned>(one.hits));
  const Sums sums{static_cast<double>(one.all), static_cast<double>(hits),
                  static_cast<double>(all)};
  const std::uint64_t low = hits > other.all ? hits - other.all : 0;
  const std::uint64_t high = std::min(hits, one.all);
  double sum = seen;
  double p = seen;
  for (std::uint64_t x = one.hits; x < high; ++x) {
    p *= step_up(sums, static_cast<double>(x));
    sum += p <= seen * same ? p : 0;
  }
  p = seen;
  for (std::uint64_t x = one.hits; x > low; --x) {
    p /= step_up(sums, static_cast<double>(x - 1));
    sum += p <= seen * same ? p : 0;
  }
  return std::min(sum, 1.0);
}

Interval chart_limits(double mean, std::uint64_t size) {
  const double half = 3 * std::sqrt(mean * (1 - mean) / static_cast<double>(size));
  return {std::max(0.0, mean - half), std::min(1.0, mean + half)};
}

} // namespace cardseal::runlog
