// What a yield can and can't say: intervals, an exact test, and limits of a control chart, over
// plain counts. Distributions are Boost.Math's.
#pragma once

#include <cstdint>

namespace cardseal::runlog {

struct Count {
  std::uint64_t hits = 0;
  std::uint64_t all = 0; // never below `hits`
};

struct Interval {
  double low = 0;
  double high = 1;
};

// The score interval of a proportion: E. B. Wilson, "Probable inference, the law of succession, and
// statistical inference", JASA 22 (1927) 209-212; NIST/SEMATECH e-Handbook 7.2.4.1. Of nothing: 0
// to 1.
Interval wilson(const Count& count, double confidence = 0.95);

// Fisher's exact test of two proportions, two-sided: the probability of all tables with the same
// sums that are as improbable as this one or more. 1 when either is of nothing. Both
// together count fewer than 2^32.
double fisher(const Count& one, const Count& other);

// Three standard deviations around a mean proportion, for groups of `size`: NIST/SEMATECH
// e-Handbook 6.3.3.2. Meant for groups in which five or more hits and five or more others are
// expected (common practice, no source).
Interval chart_limits(double mean, std::uint64_t size);

} // namespace cardseal::runlog
