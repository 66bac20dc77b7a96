// A unit's text by lib/unit beside snprintf: prefix and six digits, the same numbers, in one
// process by turns. Prints the medians, nanoseconds a text, and their ratio; both make the same
// bytes.
//   serial_text [ROUNDS]
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <vector>

#include "unit/unit.h"

namespace {

using namespace cardseal;

constexpr std::uint32_t units = 999'999;

format::Manifest manifest() {
  format::Manifest m;
  m.scheme.set({{}, 1, 1, units});
  format::Part literal;
  literal.literal.set({});
  literal.literal.value.set("FN");
  m.parts.add(literal);
  format::Part number;
  number.index = 2;
  number.kind = format::PartKind::number;
  number.base.set(10);
  number.width.set(6);
  m.parts.add(number);
  return m;
}

// Nanoseconds a text; `sum` keeps the work from being left out.
template <class Make>
double timed(Make make, std::uint64_t& sum) {
  const auto start = std::chrono::steady_clock::now();
  for (std::uint32_t n = 0; n < units; ++n) {
    sum = sum * 31 + static_cast<unsigned char>(make(n)[7]);
  }
  const std::chrono::duration<double, std::nano> wall = std::chrono::steady_clock::now() - start;
  return wall.count() / units;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

} // namespace

int main(int argc, char** argv) {
  const int rounds = argc > 1 ? std::atoi(argv[1]) : 15;
  const format::Manifest m = manifest();
  const unit::Serials serials = unit::serials_of(m);
  unit::UnitText text;
  char printed[16];
  const auto ours = [&](std::uint32_t n) {
    return unit::text_of(serials, n, text).ok() ? text.bytes.data() : "";
  };
  const auto theirs = [&](std::uint32_t n) {
    std::snprintf(printed, sizeof(printed), "FN%06u", n + 1);
    return static_cast<const char*>(printed);
  };
  for (std::uint32_t n = 0; n < units; ++n) {
    if (std::memcmp(ours(n), theirs(n), 8) != 0) {
      std::fprintf(stderr, "unit %u differs\n", n);
      return 1;
    }
  }
  std::vector<double> unit_ns;
  std::vector<double> printf_ns;
  std::uint64_t sums[2] = {};
  for (int round = 0; round < rounds; ++round) {
    unit_ns.push_back(timed(ours, sums[0]));
    printf_ns.push_back(timed(theirs, sums[1]));
  }
  if (sums[0] != sums[1]) {
    return 1;
  }
  std::printf("lib/unit %.1f ns, snprintf %.1f ns a text; ratio %.2f (medians of %d rounds)\n",
              median(unit_ns), median(printf_ns), median(printf_ns) / median(unit_ns), rounds);
  return 0;
}
