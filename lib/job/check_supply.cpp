// The supply that a release states, against device, board and stations: what stands at board and
// device at the worst (supply/margins.h), currents and times.
#include <array>

#include <algorithm>

#include <fmt/format.h>

#include "job/checks.h"
#include "job/rules.h"
#include "job/supply_case.h"

namespace cardseal::job {
namespace {

using supply::Margin;

std::string spell_value(std::int64_t value, supply::Unit unit) {
  constexpr std::array<std::string_view, 3> names{"mV", "mA", "ms"};
  return fmt::format("{} {}", spell_thousandths(value), names[static_cast<std::size_t>(unit)]);
}

std::string spell_supply(std::uint32_t mv) {
  return fmt::format("supply of {} mV", mv);
}

const Rule& rule_of(std::string_view id) {
  if (id == "device-absolute-max") {
    return rules::absolute_max;
  }
  if (id == "board-entry-max") {
    return rules::above_board;
  }
  if (id == "board-entry-min") {
    return rules::below_board;
  }
  if (id.starts_with("device-operating")) {
    return rules::outside_operating;
  }
  if (id.starts_with("device-")) {
    return rules::outside_programming;
  }
  if (id.starts_with("signal-")) {
    return id == "signal-min" ? rules::signals_below : rules::signals_above;
  }
  if (id.ends_with("-current")) {
    return rules::current;
  }
  if (id == "discharge-verify-low") {
    return rules::verify_low_not_reached;
  }
  return id.starts_with("charge-") ? rules::charge_time : rules::discharge;
}

std::vector<Margin> worst_missed(const supply::Report& report) {
  std::vector<Margin> worst;
  for (const Margin& margin : report.margins) {
    if (margin.standing == supply::Standing::holds) {
      continue;
    }
    bool known = false;
    for (Margin& before : worst) {
      if (before.id == margin.id) {
        before = is_worse(margin, before) ? margin : before;
        known = true;
      }
    }
    if (!known) {
      worst.push_back(margin);
    }
  }
  return worst;
}

class SupplyCheck {
public:
  SupplyCheck(const ReleaseFile& release, const Inputs& in, Findings& findings)
      : supply_(release.supply), in_(in), findings_(findings), mv_(release.supply.supply_mv),
        release_(release) {}

  void run() {
    check_sides();
    const bool own = supply_.source == format::SupplySource::board;
    for (const SupplyCase& one : supply_cases(release_, in_)) {
      if (own) {
        check_own_margins(one);
        continue;
      }
      check_setting("supply", mv_, *one.station);
      if (supply_.verify) {
        check_setting("low verify supply", supply_.verify->low_mv, *one.station);
        check_setting("high verify supply", supply_.verify->high_mv, *one.station);
      }
      check_margins(one);
    }
  }

private:
  void add(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), supply_.place, std::move(hint));
  }

  void check_sides() {
    const profile::OwnSupply own = in_.board.supply.own;
    const bool by_station = supply_.source == format::SupplySource::station;
    if (by_station && own != profile::OwnSupply::none) {
      add(rules::both_supplies,
          fmt::format("the station would give {} mV while {} has a {} supply of its own", mv_,
                      in_.board.id, own == profile::OwnSupply::battery ? "battery" : "mains"),
          "state source=\"board\", or program the board without its own supply and say so in its "
          "profile");
    }
    if (!by_station && own == profile::OwnSupply::none) {
      add(rules::no_supply,
          fmt::format("the board should give {} mV, but {} has no supply of its own", mv_,
                      in_.board.id),
          "state source=\"station\", or correct the board's profile");
    }
  }

  // What the board's own supply makes at the device, in whole millivolts outwards.
  struct Made {
    std::int64_t low_mv = 0;
    std::int64_t high_mv = 0;
  };
  static Made made_by_board(const supply::Report& report) {
    const auto value = [&](std::string_view id) {
      return supply::find(report.sheet, id, supply::Phase::all)->value.value_or(0);
    };
    return {value("device-low-uv") / 1000, (value("device-high-uv") + 999) / 1000};
  }

  // The board's own spread counts, not the release's word.
  void check_own_stated(const supply::Report& report) {
    const Made made = made_by_board(report);
    if (mv_ < made.low_mv || mv_ > made.high_mv) {
      add(mv_ > made.high_mv ? rules::above_board : rules::below_board,
          fmt::format("{} from the board is stated, {} makes {} to {} mV of its own",
                      spell_supply(mv_), in_.board.id, made.low_mv, made.high_mv),
          "state what the board makes, or correct its profile");
    }
  }

  // The device's margins are those of the board, told once; signals are each station's.
  void check_own_margins(const SupplyCase& one) {
    if (!one.report) {
      tell_out_of_range(one);
      return;
    }
    const bool first = one.station == &in_.stations.front();
    if (first) {
      check_own_stated(*one.report);
    }
    for (const Margin& margin : worst_missed(*one.report)) {
      if (margin.id.starts_with("signal-")) {
        tell_signal(margin, one);
      } else if (first && !told_harder(margin, *one.report)) {
        tell_own(margin, made_by_board(*one.report));
      }
    }
  }

  // What harms says more than what fails, and what does not work more than what is not programmed.
  static bool told_harder(const Margin& margin, const supply::Report& report) {
    const auto rank = [](std::string_view id) {
      return id == "device-absolute-max" ? 2 : id.starts_with("device-operating") ? 1 : 0;
    };
    for (const Margin& other : report.margins) {
      if (other.standing != supply::Standing::holds && rank(other.id) > rank(margin.id) &&
          other.id.starts_with("device-")) {
        return true;
      }
    }
    return false;
  }

  void tell_own(const Margin& margin, const Made& made) {
    add(rule_of(margin.id),
        fmt::format("{}: {} to {} mV of {}, {} needs {} {} mV", phase_of(margin), made.low_mv,
                    made.high_mv, in_.board.id, in_.device.id,
                    margin.id.ends_with("-min") ? "at least" : "at most", margin.limit / 1000),
        own_hint());
  }

  std::string own_hint() const {
    return fmt::format("program this board from a station, or correct the profile of its supply; "
                       "the data sheet of {} decides",
                       in_.device.id);
  }

  std::string device_hint(supply::Phase phase = supply::Phase::program) const {
    if (phase == supply::Phase::verify_low || phase == supply::Phase::verify_high) {
      return fmt::format("state a verify supply further inside {} to {} mV; the data sheet of {} "
                         "decides",
                         in_.device.supply.operating_min_mv, in_.device.supply.operating_max_mv,
                         in_.device.id);
    }
    return fmt::format("state a supply inside {} to {} mV; the data sheet of {} decides",
                       in_.device.supply.program_min_mv, in_.device.supply.program_max_mv,
                       in_.device.id);
  }

  std::string board_hint() const {
    return fmt::format("state a supply inside {} to {} mV, or correct the board's profile",
                       in_.board.supply.min_mv, in_.board.supply.max_mv);
  }

  void check_setting(std::string_view what, std::uint32_t mv, const profile::Station& station) {
    const profile::StationSupply& supply = station.supply;
    if (mv < supply.min_mv || mv > supply.max_mv) {
      add(rules::outside_station,
          fmt::format("{} of {} mV is outside the {} to {} mV that {} gives", what, mv,
                      supply.min_mv, supply.max_mv, station.id),
          "state another supply, or leave this station out");
      return;
    }
    const std::uint32_t above = (mv - supply.min_mv) % supply.step_mv;
    if (above != 0) {
      add(rules::off_step,
          fmt::format("{} of {} mV is no step of {}, which gives {} to {} mV by {} mV", what, mv,
                      station.id, supply.min_mv, supply.max_mv, supply.step_mv),
          fmt::format("nearest are {} and {} mV", mv - above, mv - above + supply.step_mv));
    }
  }

  void tell_out_of_range(const SupplyCase& one) {
    const supply::OutOfRange& bad = one.report.error();
    add(rules::format_limit,
        fmt::format("{} of the supply calculation at {}: {}, it takes {} to {}", bad.id,
                    one.station->id, bad.found, bad.least, bad.most),
        "correct the profile that states it");
  }

  void check_margins(const SupplyCase& one) {
    if (!one.report) {
      tell_out_of_range(one);
      return;
    }
    bool harmed = false;
    for (const Margin& margin : worst_missed(*one.report)) {
      const bool same_again = harmed && margin.id.starts_with("device-") &&
                              margin.id.ends_with("-max") && margin.id != "device-absolute-max";
      harmed = harmed || margin.id == "device-absolute-max";
      if (!same_again) {
        tell(margin, one);
      }
    }
  }

  void tell(const Margin& margin, const SupplyCase& one) {
    if (margin.id.starts_with("device-") || margin.id.starts_with("board-")) {
      tell_voltage(margin, one);
    } else if (margin.id.starts_with("signal-")) {
      tell_signal(margin, one);
    } else if (margin.id.ends_with("-current")) {
      tell_current(margin, one);
    } else {
      tell_time(margin, one);
    }
  }

  void tell_voltage(const Margin& margin, const SupplyCase& one) {
    const bool at_board = margin.id.starts_with("board-");
    const std::string& owner = at_board ? in_.board.id : in_.device.id;
    const std::string_view phase = phase_of(margin);
    const std::string value = spell_value(margin.value.value_or(0), margin.unit);
    const std::string limit = spell_value(margin.limit, margin.unit);
    const std::string hint = at_board ? board_hint() : device_hint(margin.phase);
    const std::string set = spell_supply(set_mv(margin.phase));
    if (!margin.id.ends_with("-min")) {
      add(rule_of(margin.id),
          fmt::format("{}: {} of {} can be {} at {}, above its {}", phase, set, one.station->id,
                      value, owner, limit),
          hint);
      return;
    }
    add(rule_of(margin.id),
        fmt::format("{}: {} of {} can be {} at {} ({} with new contacts), below its {}", phase, set,
                    one.station->id, value, owner,
                    spell_value(margin.value_new_contacts.value_or(0), margin.unit), limit),
        hint + "; shorter cable or better contacts help too");
  }

  void tell_signal(const Margin& margin, const SupplyCase& one) {
    const std::string value = spell_value(margin.value.value_or(0), margin.unit);
    const std::string limit = spell_value(margin.limit, margin.unit);
    if (margin.id == "signal-min") {
      add(rules::signals_below,
          fmt::format("lines of {} can be as low as {} when they are high, {} needs {}",
                      one.station->id, value, in_.board.id, limit),
          "leave this station out");
      return;
    }
    const std::string when =
        margin.phase == supply::Phase::all ? "" : fmt::format("{}: ", phase_of(margin));
    add(rules::signals_above,
        margin.id == "signal-max"
            ? fmt::format("lines of {} can stand at {} when they are high, {} takes {}",
                          one.station->id, value, in_.board.id, limit)
            : fmt::format("{}lines of {} can stand {} above the supply of {}, {} takes {}", when,
                          one.station->id, value, in_.device.id, in_.board.id, limit),
        "leave this station out, or correct the profile that states the level");
  }

  void tell_current(const Margin& margin, const SupplyCase& one) {
    const bool all = margin.id == "all-current";
    add(rules::current,
        fmt::format(
            "{} draws {}, {} gives {} {}",
            all ? fmt::format("{} slots: {}", slots_on(release_, *one.station), in_.board.id)
                : fmt::format("{}: {}", phase_of(margin), in_.board.id),
            spell_value(margin.value.value_or(0), margin.unit), one.station->id,
            all ? "all slots together" : "a slot", spell_value(margin.limit, margin.unit)),
        all ? "permit fewer slots, or leave this station out" : "leave this station out");
  }

  static std::string_view phase_of(const Margin& margin) {
    return supply::phase_words[static_cast<std::size_t>(margin.phase)];
  }

  std::uint32_t set_mv(supply::Phase phase) const {
    if (phase == supply::Phase::verify_low) {
      return supply_.verify->low_mv;
    }
    return phase == supply::Phase::verify_high ? supply_.verify->high_mv : mv_;
  }

  void tell_fall(const Margin& margin, const SupplyCase& one, const std::string& limit) {
    const std::uint32_t low = set_mv(margin.phase);
    add(rules::verify_low_not_reached,
        margin.value
            ? fmt::format("{} takes {} to fall to a verify supply of {} mV at {}, which waits {}",
                          in_.board.id, spell_value(*margin.value, margin.unit), low,
                          one.station->id, limit)
            : fmt::format("nothing lets {} fall to a verify supply of {} mV at {}, which waits {}",
                          in_.board.id, low, one.station->id, limit),
        "leave this station out, or give the board a bleed resistor");
  }

  void tell_rise(const Margin& margin, const SupplyCase& one, const std::string& limit) {
    const std::uint32_t high = set_mv(margin.phase);
    add(rules::charge_time,
        margin.value
            ? fmt::format("{} takes {} to rise to a verify supply of {} mV at {}, which waits {}",
                          in_.board.id, spell_value(*margin.value, margin.unit), high,
                          one.station->id, limit)
            : fmt::format("{} draws {} mA while it is verified, {} gives {} mA a slot: it never "
                          "rises to {} mV",
                          in_.board.id, in_.board.load.verify_ma, one.station->id,
                          spell_thousandths(share_ua(*one.report)), high),
        "permit fewer slots, or leave this station out");
  }

  void tell_time(const Margin& margin, const SupplyCase& one) {
    const std::string limit = spell_value(margin.limit, margin.unit);
    if (margin.id == "discharge-verify-low") {
      tell_fall(margin, one, limit);
      return;
    }
    if (margin.id == "charge-verify-high") {
      tell_rise(margin, one, limit);
      return;
    }
    if (margin.id != "charge-time") {
      add(rules::discharge,
          margin.value
              ? fmt::format("{} takes {} to fall to {} mV at {}, which waits {}", in_.board.id,
                            spell_value(*margin.value, margin.unit),
                            one.station->switching.removal_mv, one.station->id, limit)
              : fmt::format("nothing lets {} fall to {} mV at {}, which waits {}", in_.board.id,
                            one.station->switching.removal_mv, one.station->id, limit),
          "wait longer before boards are taken off, or give the board a bleed resistor");
      return;
    }
    add(rules::charge_time,
        margin.value
            ? fmt::format("{} takes {} to charge {} uF at {}, which waits {}", in_.board.id,
                          spell_value(*margin.value, margin.unit), in_.board.load.capacitance_uf,
                          one.station->id, limit)
            : fmt::format("{} draws {} mA while it charges, {} gives {} mA a slot: it never starts",
                          in_.board.id, in_.board.load.start_ma, one.station->id,
                          spell_thousandths(share_ua(*one.report))),
        "permit fewer slots, or leave this station out");
  }

  static std::int64_t share_ua(const supply::Report& report) {
    const supply::Quantity* share = supply::find(report.sheet, "share-ua", supply::Phase::all);
    return share == nullptr ? 0 : share->value.value_or(0);
  }

  const SupplyWanted& supply_;
  const Inputs& in_;
  Findings& findings_;
  std::uint32_t mv_;
  const ReleaseFile& release_;
};

} // namespace

void check_supply(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  SupplyCheck(release, in, findings).run();
}

} // namespace cardseal::job
