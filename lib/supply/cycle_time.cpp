#include "supply/cycle_time.h"

#include <utility>

#include "supply/exact.h"

namespace cardseal::supply {
namespace {

constexpr std::int64_t us_a_s = 1'000'000;
constexpr std::int64_t million = 1'000'000;
constexpr std::int64_t most_bytes = 0x7FFF'FFFF;
constexpr std::int64_t most_rate = 1'000'000'000;
constexpr std::int64_t most_part_us = 1'000'000'000;
constexpr std::int64_t most_board_us = 10'000'000'000;

std::vector<Given> givens(const CycleInputs& in) {
  constexpr Phase all = Phase::all;
  return {{"program-bytes", all, in.program_bytes, 0, most_bytes},
          {"program-bytes-per-s", all, in.program_bytes_per_s, 1'000, most_rate},
          {"verify-bytes", all, in.verify_bytes, 0, most_bytes},
          {"verify-bytes-per-s", all, in.verify_bytes_per_s, 1'000, most_rate},
          {"verify-passes", all, in.verify_passes, 0, 3},
          {"erase-us", all, in.erase_us, 0, most_part_us},
          {"overhead-us", all, in.overhead_us, 0, most_part_us},
          {"slowest-ppm", all, in.slowest_ppm, 0, million},
          {"slots-on", all, in.slots_on, 1, 32},
          {"handling-board-us", all, in.handling_board_us, 0, most_part_us},
          {"handling-cycle-us", all, in.handling_cycle_us, 0, most_part_us},
          {"quantity", all, in.quantity, 1, 9'999'999},
          {"yield-ppm", all, in.yield_ppm, 100'000, million},
          {"setup-us", all, in.setup_us, 0, 0xFFFF'FFFF}};
}

class CycleTime {
public:
  explicit CycleTime(const CycleInputs& in) : in_(in) {}

  Result<CycleReport, OutOfRange> run() {
    const std::vector<Given> given = givens(in_);
    if (const auto bad = first_out_of_range(given)) {
      return Unexpected(*bad);
    }
    for (const Given& one : given) {
      put(one.id, one.value, "");
    }
    if (const auto bad =
            first_out_of_range({{"board-us", Phase::all, put_board(), 0, most_board_us}})) {
      return Unexpected(*bad);
    }
    put_slowest();
    put_cycle();
    put_lot();
    return std::move(report_);
  }

private:
  std::int64_t put(std::string_view id, std::int64_t value, std::string_view formula) {
    report_.sheet.push_back({id, Phase::all, value, formula});
    return value;
  }

  std::int64_t put_board() {
    const std::int64_t program =
        put("program-us", scaled_up(in_.program_bytes, us_a_s, in_.program_bytes_per_s),
            "program-bytes * 1000000 / program-bytes-per-s");
    const std::int64_t verify =
        put("verify-us",
            scaled_up(product(in_.verify_passes, in_.verify_bytes), us_a_s, in_.verify_bytes_per_s),
            "verify-passes * verify-bytes * 1000000 / verify-bytes-per-s");
    board_ = sum(sum(program, verify), sum(in_.erase_us, in_.overhead_us));
    return put("board-us", board_, "erase-us + program-us + verify-us + overhead-us");
  }

  void put_slowest() {
    report_.board_us =
        put("slowest-board-us", scaled_up(board_, sum(million, in_.slowest_ppm), million),
            "board-us * (1000000 + slowest-ppm) / 1000000");
  }

  bool together() const { return in_.order == SlotOrder::together; }

  std::int64_t cycle_of(std::int64_t boards) const {
    const std::int64_t working = together() ? 1 : boards;
    return sum(product(working, report_.board_us),
               sum(product(boards, in_.handling_board_us), in_.handling_cycle_us));
  }

  void put_cycle() {
    report_.cycle_us =
        put("cycle-us", cycle_of(in_.slots_on),
            together() ? "slowest-board-us + slots-on * handling-board-us + handling-cycle-us"
                       : "slots-on * (slowest-board-us + handling-board-us) + handling-cycle-us");
  }

  void put_lot() {
    report_.boards = put("boards", scaled_up(in_.quantity, million, in_.yield_ppm),
                         "up(quantity * 1000000 / yield-ppm)");
    report_.cycles =
        put("cycles", quotient_up(report_.boards, in_.slots_on), "up(boards / slots-on)");
    const std::int64_t full_cycles = report_.cycles - 1;
    const std::int64_t last =
        put("last-boards", report_.boards - product(full_cycles, in_.slots_on),
            "boards - (cycles - 1) * slots-on");
    const std::int64_t last_cycle = put(
        "last-cycle-us", cycle_of(last),
        together() ? "slowest-board-us + last-boards * handling-board-us + handling-cycle-us"
                   : "last-boards * (slowest-board-us + handling-board-us) + handling-cycle-us");
    report_.lot_us =
        put("lot-us", sum(sum(in_.setup_us, last_cycle), product(full_cycles, report_.cycle_us)),
            "setup-us + (cycles - 1) * cycle-us + last-cycle-us");
  }

  const CycleInputs& in_;
  CycleReport report_;
  std::int64_t board_ = 0;
};

} // namespace

Result<CycleReport, OutOfRange> cycle_time(const CycleInputs& in) {
  return CycleTime(in).run();
}

} // namespace cardseal::supply
