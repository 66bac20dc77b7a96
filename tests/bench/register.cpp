// Fills a register to a number of allotments, then measures one more, with and without waiting for
// the disk, and what `trace` asks it about one unit. Prints: allotments, median and worst
// microseconds of each, bytes of the file.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include "register/register.h"
#include "support/faulting_vfs.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

constexpr std::uint64_t a_step = 1000; // cards reserved together while filling
constexpr std::size_t rounds = 101;

template <class T>
T must(Try<T> tried) {
  if (!tried) {
    std::fprintf(stderr, "%s\n", describe(tried.error()).c_str());
    std::exit(1);
  }
  return std::move(*tried);
}

template <class Text>
Text text(const char* value) {
  Text out;
  (void)out.set(value);
  return out;
}

SetRequest request(std::uint64_t cards) {
  SetRequest set;
  set.product = text<format::Id>("frost-node");
  set.scheme.set(text<format::Id>("fn-serial"));
  set.capacity = 100'000'000;
  format::Window window;
  window.scheme = set.scheme.value;
  window.first = 0;
  window.last = 99'999'999;
  set.permitted = {window};
  set.work_order = text<format::Name>("WO-1");
  CardRequest card;
  card.station = text<format::Id>("orchard-1");
  card.units = 20; // units_a_card
  card.enabled_slots = 0x3F;
  set.cards.assign(cards, card);
  return set;
}

void fill(Register& numbers, std::uint64_t wanted) {
  std::uint64_t have = 0;
  if (const std::vector<WindowRow> windows = must(numbers.windows()); !windows.empty()) {
    have = windows[0].next / 20;
  }
  while (have < wanted) {
    const std::uint64_t step = std::min(a_step, wanted - have);
    have += must(numbers.reserve(request(step))).size();
  }
}

constexpr std::uint64_t units_a_card = 20;

struct Times {
  double median = 0;
  double worst = 0;
};

template <class Step>
Times measure(Step step) {
  std::vector<double> times;
  for (std::size_t i = 0; i < rounds; ++i) {
    const auto before = std::chrono::steady_clock::now();
    step(i);
    times.push_back(
        std::chrono::duration<double, std::micro>(std::chrono::steady_clock::now() - before)
            .count());
  }
  std::sort(times.begin(), times.end());
  return {times[rounds / 2], times.back()};
}

Times measure_giving(Register& numbers) {
  return measure([&](std::size_t) { (void)must(numbers.reserve(request(1))); });
}

// Units all over the register, the first and the last too.
Times measure_trace(Register& numbers, std::uint64_t allotments) {
  return measure([&](std::size_t i) {
    const std::uint64_t ordinal = (allotments * units_a_card - 1) / (rounds - 1) * i;
    const std::vector<AllotmentRow> rows = must(numbers.allotments_with("fn-serial", ordinal));
    if (rows.size() != 1) {
      std::fprintf(stderr, "ordinal %llu: not in one allotment\n",
                   static_cast<unsigned long long>(ordinal));
      std::exit(1);
    }
    (void)must(numbers.result_of(rows[0].id, ordinal - rows[0].range.first));
    (void)must(numbers.fates_of(rows[0].card));
    (void)must(numbers.settlements_of(rows[0].id));
    (void)must(numbers.statements_of(rows[0].work_order));
    (void)must(numbers.ranges());
  });
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    std::fprintf(stderr, "register FILE ALLOTMENTS\n");
    return 64;
  }
  const io::Path path = argv[1];
  const std::uint64_t wanted = std::strtoull(argv[2], nullptr, 10);
  test::install_faulting_vfs();
  if (!std::filesystem::exists(path)) {
    Register made = must(Register::create(io::real_system(), path, format::Digest{}));
    (void)must(made.enrol({text<format::Id>("orchard-1"), false, std::nullopt, 1}));
  }
  Register numbers = must(Register::open(io::real_system(), path, std::nullopt));
  test::really_sync = false;
  fill(numbers, wanted);
  const Times traced = measure_trace(numbers, wanted);
  const Times bare = measure_giving(numbers);
  const auto size = std::filesystem::file_size(path);
  test::really_sync = true;
  const Times whole = measure_giving(numbers);
  std::printf("%llu %.0f %.0f %.0f %.0f %.0f %.0f %llu\n", static_cast<unsigned long long>(wanted),
              bare.median, bare.worst, whole.median, whole.worst, traced.median, traced.worst,
              static_cast<unsigned long long>(size));
  return 0;
}
