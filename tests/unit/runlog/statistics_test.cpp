// Against published worked examples; each names its source.
#include "runlog/statistics.h"
#include "support/catch.h"

using namespace cardseal::runlog;

namespace {

bool near(double found, double published, double last_digit) {
  INFO(found << " against " << published);
  return found > published - last_digit && found < published + last_digit;
}

} // namespace

TEST_CASE("Wilson intervals are those that were published") {
  // R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven
  // methods", Statistics in Medicine 17 (1998) 857-872, table I, method 3 (score without continuity
  // correction), 95 %; figures from memory.
  struct Example {
    Count count;
    double low, high;
  };
  for (const Example& e : {Example{{81, 263}, 0.2553, 0.3662}, Example{{15, 148}, 0.0624, 0.1605},
                           Example{{0, 20}, 0.0, 0.1611}, Example{{1, 29}, 0.0061, 0.1718}}) {
    const Interval found = wilson(e.count);
    CHECK(near(found.low, e.low, 0.00006));
    CHECK(near(found.high, e.high, 0.00006));
  }
  CHECK(wilson({0, 0}).low == 0.0);
  CHECK(wilson({0, 0}).high == 1.0);
  CHECK(wilson({20, 20}).high == 1.0);
}

TEST_CASE("Fisher's exact test gives the published probabilities") {
  // R. A. Fisher, The Design of Experiments (1935), chapter II: of eight cups the lady names three
  // of four rightly; by counting, 16 + 1 of the 70 choices are as good or better, and as many as
  // bad on the other side. vaszar.org (2020-04-08, "Fisher's exact test") prints 0.2429 for one
  // side.
  CHECK(near(fisher({3, 4}, {1, 4}), 34.0 / 70, 1e-9));
  // All four rightly: 1 of 70 on each side.
  CHECK(near(fisher({4, 4}, {0, 4}), 2.0 / 70, 1e-9));
  // matstat.org, R course, "fisher_test": rows 2, 10 and 20, 13 print a p-value of 0.01655.
  CHECK(near(fisher({2, 12}, {20, 33}), 0.01655, 0.000006));
  // Symmetric in what is counted and in which group is named first.
  CHECK(near(fisher({20, 33}, {2, 12}), fisher({2, 12}, {20, 33}), 1e-12));
  CHECK(near(fisher({10, 12}, {13, 33}), fisher({2, 12}, {20, 33}), 1e-12));
  CHECK(fisher({0, 0}, {3, 9}) == 1.0);
  CHECK(near(fisher({5, 10}, {50, 100}), 1.0, 1e-9));
}

TEST_CASE("Fisher's exact test agrees with counting every table") {
  // Binomial coefficients in exact whole numbers: all tables of up to 9 and 7.
  const auto choose = [](std::uint64_t n, std::uint64_t k) {
    std::uint64_t out = 1;
    for (std::uint64_t i = 0; i < k; ++i) {
      out = out * (n - i) / (i + 1);
    }
    return out;
  };
  for (std::uint64_t a = 0; a <= 9; ++a) {
    for (std::uint64_t b = 0; b <= 7; ++b) {
      std::uint64_t as_rare = 0;
      const std::uint64_t seen = choose(9, a) * choose(7, b);
      for (std::uint64_t x = 0; x <= 9; ++x) {
        if (x <= a + b && a + b - x <= 7) {
          const std::uint64_t ways = choose(9, x) * choose(7, a + b - x);
          as_rare += ways <= seen ? ways : 0;
        }
      }
      INFO(a << " of 9, " << b << " of 7");
      CHECK(near(fisher({a, 9}, {b, 7}),
                 static_cast<double>(as_rare) / static_cast<double>(choose(16, a + b)), 1e-9));
    }
  }
}

TEST_CASE("control limits of proportions are those of the handbook") {
  // NIST/SEMATECH e-Handbook 6.3.3.2: 30 wafers of 50 chips, mean proportion 0.2313; limits 0.0524
  // and 0.4102.
  const Interval limits = chart_limits(0.2313, 50);
  CHECK(near(limits.low, 0.0524, 0.0002));
  CHECK(near(limits.high, 0.4102, 0.0002));
  CHECK(chart_limits(0.01, 50).low == 0.0);
}
