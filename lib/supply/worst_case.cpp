#include "supply/worst_case.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "supply/copper.h"
#include "supply/exact.h"
#include "supply/times.h"

namespace cardseal::supply {
namespace {

constexpr std::int64_t uv_a_mv = 1000;
constexpr std::int64_t millionths = 1'000'000;

std::int64_t not_below_zero(std::int64_t value) {
  return std::max<std::int64_t>(value, 0);
}

std::int64_t device_high(const BoardSide& board, std::int64_t entry_high) {
  switch (board.entry) {
  case EntryKind::at_device:
    return entry_high;
  case EntryKind::before_diode:
    return not_below_zero(entry_high - product(board.drop_least_mv, uv_a_mv));
  case EntryKind::before_regulator:
    return std::min(product(board.output_most_mv, uv_a_mv), entry_high);
  }
  return entry_high;
}

std::int64_t device_low(const BoardSide& board, std::int64_t entry_low) {
  const std::int64_t dropped = not_below_zero(entry_low - product(board.drop_most_mv, uv_a_mv));
  switch (board.entry) {
  case EntryKind::at_device:
    return entry_low;
  case EntryKind::before_diode:
    return dropped;
  case EntryKind::before_regulator:
    return std::min(product(board.output_least_mv, uv_a_mv), dropped);
  }
  return 0;
}

// `supply_high` is what a line follows; the lowest is known of a fixed level only, since a line
// that follows is as low as the supply that the device has too.
void put_signal_values(const Signals& signals, std::int64_t supply_high,
                       std::string_view supply_formula, Sheet& sheet) {
  if (signals.follows_supply) {
    sheet.push_back({"signal-high-uv", Phase::all, supply_high, supply_formula});
    return;
  }
  const std::int64_t set = product(signals.set_mv, uv_a_mv);
  const std::int64_t off = product(signals.tolerance_mv, uv_a_mv);
  sheet.push_back({"signal-high-uv", Phase::all, sum(set, off),
                   "signal-set-mv * 1000 + signal-tolerance-mv * 1000"});
  sheet.push_back({"signal-low-uv", Phase::all, not_below_zero(set - off),
                   "max(0, signal-set-mv * 1000 - signal-tolerance-mv * 1000)"});
}

void put_fixed_over(const Signals& signals, std::int64_t device_low_uv, Phase phase, Sheet& sheet) {
  const std::int64_t high =
      sum(product(signals.set_mv, uv_a_mv), product(signals.tolerance_mv, uv_a_mv));
  sheet.push_back({"line-over-uv", phase, not_below_zero(high - device_low_uv),
                   "max(0, signal-set-mv * 1000 + signal-tolerance-mv * 1000 - device-low-uv)"});
}

class WorstCase {
public:
  explicit WorstCase(const Inputs& in) : in_(in) {}

  Sheet run() {
    for (const Given& given : givens(in_)) {
      put(given.id, given.value, "", given.phase);
    }
    put_path();
    for (const PhaseSetting& setting : in_.phases) {
      put_phase(setting);
    }
    put_signals();
    put_charge();
    put_discharge();
    return std::move(sheet_);
  }

private:
  std::int64_t put(std::string_view id, std::int64_t value, std::string_view formula,
                   Phase phase = Phase::all) {
    sheet_.push_back({id, phase, value, formula});
    return value;
  }

  void put_path() {
    const std::int64_t wire = put(
        "wire-uohm", wire_uohm(in_.cable.length_mm, in_.cable.uohm_per_m, in_.cable.wire_c).value(),
        wire_formula);
    const std::int64_t contacts = sum(in_.contacts.there, in_.contacts.back);
    loop_new_ =
        put("loop-new-uohm", sum(product(2, wire), product(contacts, in_.contacts.new_uohm)),
            "2 * wire-uohm + (contacts-there + contacts-back) * contact-new-uohm");
    loop_worn_ =
        put("loop-worn-uohm", sum(product(2, wire), product(contacts, in_.contacts.worn_uohm)),
            "2 * wire-uohm + (contacts-there + contacts-back) * contact-worn-uohm");
    for (const PhaseSetting& setting : in_.phases) {
      load_most_ = std::max<std::int64_t>(load_most_, setting.load_ua);
    }
    put("load-most-ua", load_most_, "most(load-ua)");
    put("all-ua", product(in_.station.slots_on, load_most_), "slots-on * load-most-ua");
  }

  void put_phase(const PhaseSetting& setting) {
    const Phase phase = setting.phase;
    const std::int64_t set = product(setting.set_mv, uv_a_mv);
    const std::int64_t off =
        sum(product(in_.station.tolerance_mv, uv_a_mv),
            quotient_up(product(setting.set_mv, in_.station.tolerance_ppm), 1000));
    const std::int64_t high =
        put("station-high-uv", sum(set, off),
            "set-mv * 1000 + tolerance-mv * 1000 + set-mv * tolerance-ppm / 1000", phase);
    const std::int64_t low =
        put("station-low-uv", not_below_zero(set - off),
            "max(0, set-mv * 1000 - tolerance-mv * 1000 - set-mv * tolerance-ppm / 1000)", phase);
    high_most_ = std::max(high_most_, high);
    if (phase == Phase::verify_low) {
      verify_low_ = low;
    }
    if (phase == Phase::verify_high) {
      verify_high_ = {high, setting.load_ua};
    }
    put_entry(setting, high, low);
    put_device_high(high, phase);
  }

  void put_entry(const PhaseSetting& setting, std::int64_t station_high, std::int64_t station_low) {
    const std::int64_t others = product(in_.station.slots_on - 1, load_most_);
    const std::int64_t shared =
        product(in_.station.shared_return_uohm, sum(setting.load_ua, others));
    const auto drop = [&](std::int64_t loop) {
      return quotient_up(sum(product(loop, setting.load_ua), shared), millionths); // uohm * uA
    };
    const Phase phase = setting.phase;
    put("drop-new-uv", drop(loop_new_),
        "(loop-new-uohm * load-ua + shared-return-uohm * (load-ua + (slots-on - 1) * "
        "load-most-ua)) / 1000000",
        phase);
    const std::int64_t drop_worn =
        put("drop-worn-uv", drop(loop_worn_),
            "(loop-worn-uohm * load-ua + shared-return-uohm * (load-ua + (slots-on - 1) * "
            "load-most-ua)) / 1000000",
            phase);
    const std::int64_t fresh =
        put("entry-low-new-uv", not_below_zero(station_low - drop(loop_new_)),
            "max(0, station-low-uv - drop-new-uv)", phase);
    const std::int64_t worn = put("entry-low-uv", not_below_zero(station_low - drop_worn),
                                  "max(0, station-low-uv - drop-worn-uv)", phase);
    entry_least_ = std::min(entry_least_.value_or(worn), worn);
    put_device_low(fresh, worn, phase);
    put_line_over(station_high, drop_worn, worn, phase);
  }

  // One supply feeds the device and makes the level that a line follows: what lies between the two
  // is what the way to the device takes, at the highest setting. A fixed level is independent.
  void put_line_over(std::int64_t station_high, std::int64_t drop, std::int64_t entry_low,
                     Phase phase) {
    static constexpr std::string_view following[] = {
        "min(station-high-uv, drop-worn-uv)",
        "min(station-high-uv, drop-worn-uv + drop-most-mv * 1000)",
        "station-high-uv - min(output-least-mv * 1000, max(0, station-high-uv - drop-worn-uv - "
        "drop-most-mv * 1000))"};
    if (in_.signals.follows_supply) {
      const std::int64_t device = device_low(in_.board, not_below_zero(station_high - drop));
      put("line-over-uv", station_high - device,
          following[static_cast<std::size_t>(in_.board.entry)], phase);
    } else {
      put_fixed_over(in_.signals, device_low(in_.board, entry_low), phase, sheet_);
    }
  }

  void put_device_high(std::int64_t entry_high, Phase phase) {
    static constexpr std::string_view formulas[] = {
        "station-high-uv", "max(0, station-high-uv - drop-least-mv * 1000)",
        "min(output-most-mv * 1000, station-high-uv)"};
    put("device-high-uv", device_high(in_.board, entry_high),
        formulas[static_cast<std::size_t>(in_.board.entry)], phase);
  }

  void put_device_low(std::int64_t entry_new, std::int64_t entry_worn, Phase phase) {
    struct Formulas {
      std::string_view fresh;
      std::string_view worn;
    };
    static constexpr Formulas formulas[] = {
        {"entry-low-new-uv", "entry-low-uv"},
        {"max(0, entry-low-new-uv - drop-most-mv * 1000)",
         "max(0, entry-low-uv - drop-most-mv * 1000)"},
        {"min(output-least-mv * 1000, max(0, entry-low-new-uv - drop-most-mv * 1000))",
         "min(output-least-mv * 1000, max(0, entry-low-uv - drop-most-mv * 1000))"},
    };
    const Formulas& of = formulas[static_cast<std::size_t>(in_.board.entry)];
    put("device-low-new-uv", device_low(in_.board, entry_new), of.fresh, phase);
    put("device-low-uv", device_low(in_.board, entry_worn), of.worn, phase);
  }

  // A line that follows the supply stands at what the station sets for it, wherever the board takes
  // the device's own supply from.
  void put_signals() {
    put_signal_values(in_.signals, high_most_, "most(station-high-uv)", sheet_);
  }

  void put_charge() {
    const std::int64_t share =
        put("share-ua",
            std::min<std::int64_t>(in_.station.slot_limit_ua,
                                   in_.station.all_limit_ua / in_.station.slots_on),
            "min(slot-limit-ua, all-limit-ua / slots-on)");
    put_time("charge-us",
             charge_us(in_.board.capacitance_nf, high_most_, share, in_.board.start_ua).value(),
             "capacitance-nf * most(station-high-uv) / (share-ua - start-ua) / 1000", Phase::all);
    if (verify_low_ && verify_high_) {
      put_rise(share);
    }
  }

  // From the low verify supply to the high one while the board runs: the station charges it with
  // what the board leaves of the limit.
  void put_rise(std::int64_t share) {
    const std::int64_t rise =
        put("verify-rise-uv", not_below_zero(verify_high_->uv - *entry_least_),
            "max(0, station-high-uv - least(entry-low-uv))", Phase::verify_high);
    put_time("charge-verify-high-us",
             charge_us(in_.board.capacitance_nf, rise, share, verify_high_->load_ua).value(),
             "capacitance-nf * verify-rise-uv / (share-ua - load-ua) / 1000", Phase::verify_high);
  }

  void put_time(std::string_view id, Time time, std::string_view formula, Phase phase) {
    sheet_.push_back({id, phase, time, formula});
  }

  void put_discharge() {
    put_discharge_path();
    if (verify_low_) {
      put_time("discharge-verify-low-us", discharge_to(*verify_low_),
               "discharge-mohm * capacitance-nf * max(0, ln(most(station-high-uv) / "
               "station-low-uv)) / 1000000",
               Phase::verify_low);
    }
    put_time("discharge-removal-us", discharge_to(product(in_.station.removal_mv, uv_a_mv)),
             "discharge-mohm * capacitance-nf * max(0, ln(most(station-high-uv) / (removal-mv * "
             "1000))) / 1000000",
             Phase::all);
  }

  // A diode lets nothing back into the station; a resistor of the board's own is behind it.
  void put_discharge_path() {
    constexpr std::string_view id = "discharge-mohm";
    const bool into_station =
        in_.station.bleed_ohm.has_value() && in_.board.entry != EntryKind::before_diode;
    const std::optional<std::int64_t> board =
        in_.board.bleed_ohm ? std::optional(product(*in_.board.bleed_ohm, 1000)) : std::nullopt;
    if (!into_station) {
      discharge_mohm_ = board;
      sheet_.push_back({id, Phase::all, board, board ? "board-bleed-ohm * 1000" : ""});
      return;
    }
    const std::int64_t in_series =
        sum(loop_worn_, product(in_.station.slots_on, in_.station.shared_return_uohm));
    const std::int64_t station =
        put("station-path-mohm",
            sum(product(*in_.station.bleed_ohm, 1000), quotient_up(in_series, 1000)),
            "bleed-ohm * 1000 + (loop-worn-uohm + slots-on * shared-return-uohm) / 1000");
    discharge_mohm_ = board
                          ? put(id, scaled_up(station, *board, sum(station, *board)),
                                "station-path-mohm * board-bleed-ohm * 1000 / (station-path-mohm + "
                                "board-bleed-ohm * 1000)")
                          : put(id, station, "station-path-mohm");
  }

  Time discharge_to(std::int64_t to_uv) const {
    const std::int64_t capacitance = in_.board.capacitance_nf;
    if (high_most_ <= to_uv || capacitance == 0) {
      return 0;
    }
    if (!discharge_mohm_) {
      return std::nullopt;
    }
    return discharge_us(capacitance, *discharge_mohm_, high_most_, to_uv).value();
  }

  const Inputs& in_;
  Sheet sheet_;
  std::int64_t loop_new_ = 0;
  std::int64_t loop_worn_ = 0;
  std::int64_t load_most_ = 0;
  std::int64_t high_most_ = 0;
  std::optional<std::int64_t> discharge_mohm_; // none: no path
  std::optional<std::int64_t> verify_low_;     // to which a board must fall before it
  std::optional<std::int64_t> entry_least_;
  struct High {
    std::int64_t uv;
    std::int64_t load_ua;
  };
  std::optional<High> verify_high_; // to which it must rise, and what the board draws then
};

} // namespace

Sheet worst_case_sheet(const Inputs& in) {
  return WorstCase(in).run();
}

Sheet own_sheet(const OwnInputs& in) {
  static constexpr std::string_view high[] = {"own-max-mv * 1000",
                                              "max(0, own-max-mv * 1000 - drop-least-mv * 1000)",
                                              "min(output-most-mv * 1000, own-max-mv * 1000)"};
  static constexpr std::string_view low[] = {
      "own-min-mv * 1000", "max(0, own-min-mv * 1000 - drop-most-mv * 1000)",
      "min(output-least-mv * 1000, max(0, own-min-mv * 1000 - drop-most-mv * 1000))"};
  static constexpr std::string_view over[] = {
      "0", "min(own-max-mv * 1000, drop-most-mv * 1000)",
      "own-max-mv * 1000 - min(output-least-mv * 1000, max(0, own-max-mv * 1000 - drop-most-mv * "
      "1000))"};
  Sheet sheet;
  for (const Given& given : givens(in)) {
    sheet.push_back({given.id, given.phase, given.value, ""});
  }
  const auto entry = static_cast<std::size_t>(in.board.entry);
  const std::int64_t own_high = product(in.board.entry_max_mv, uv_a_mv);
  const std::int64_t lowest = device_low(in.board, product(in.board.entry_min_mv, uv_a_mv));
  sheet.push_back({"device-high-uv", Phase::all, device_high(in.board, own_high), high[entry]});
  sheet.push_back({"device-low-uv", Phase::all, lowest, low[entry]});
  put_signal_values(in.signals, own_high, "own-max-mv * 1000", sheet);
  if (in.signals.follows_supply) {
    sheet.push_back(
        {"line-over-uv", Phase::all, own_high - device_low(in.board, own_high), over[entry]});
  } else {
    put_fixed_over(in.signals, lowest, Phase::all, sheet);
  }
  return sheet;
}

} // namespace cardseal::supply
