// An independent model of the same circuit: one sampled case in plain floating point, by Ohm's law
// from the physical constants, with nothing of the module but the struct of inputs.
#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "supply/inputs.h"

namespace cardseal::supply {

struct Case { // the inputs, and the gauge that its cable's resistance was taken from
  Inputs in;
  int awg = 28;
};

// Where in each range a sampled case lies; 0 is the better end, 1 the worse.
class Dice {
public:
  explicit Dice(std::uint32_t seed) : engine_(seed) {}
  double unit() { return std::uniform_real_distribution<double>(0, 1)(engine_); }
  std::uint32_t whole(std::uint32_t least, std::uint32_t most) {
    return std::uniform_int_distribution<std::uint32_t>(least, most)(engine_);
  }

private:
  std::mt19937 engine_;
};

struct Waits { // seconds that the module says a board needs
  double removal = 0;
  double fall = 0;
};

struct Sampled { // volts, amperes, ohms, farads, seconds
  double entry = 0;
  double device = 0;
  double all_current = 0;
  double charge_time = 0;        // below zero: it never starts
  double left_after_removal = 0; // volts, once the time in question has passed
  double left_after_fall = 0;
  double rise_time = 0; // from the low verify supply to the high one; below zero: it never rises
  double signal = 0;    // of a line that is high
};

class Circuit {
public:
  // `at` gives a place between best and worst for each uncertain thing, in turn.
  template <class At>
  Sampled sample(const Case& one, const PhaseSetting& setting, bool high, const Waits& waits,
                 At at) {
    const Inputs& in = one.in;
    const double sign = high ? 1 : -1;
    const double set = setting.set_mv * 1e-3;
    const double off = in.station.tolerance_mv * 1e-3 + set * in.station.tolerance_ppm * 1e-6;
    const double station = set + sign * off * (high ? at() : 2 * at() - 1);
    const double load = setting.load_ua * 1e-6 * (high ? 1 - at() : at());
    const auto slots = 1 + static_cast<int>((in.station.slots_on - 1) * at());

    Sampled out;
    out.all_current = load;
    for (int slot = 1; slot < slots; ++slot) {
      out.all_current += greatest_load(in) * (high ? 1 - at() : at());
    }
    const double loop = wire_ohm(one, at()) + wire_ohm(one, at()) + contacts_ohm(in, at);
    const double shared = in.station.shared_return_uohm * 1e-6;
    out.entry = std::max(0.0, station - load * loop - out.all_current * shared);
    out.device = behind_entry(in.board, out.entry, high, at);
    out.charge_time = charge(in, station, slots, at());
    const double siemens = leak(in, loop + slots * shared);
    const double farad = in.board.capacitance_nf * 1e-9 * at();
    const auto left = [&](double s) {
      return farad == 0 ? 0 : station * std::exp(-s * siemens / farad);
    };
    out.left_after_removal = left(waits.removal);
    out.left_after_fall = left(waits.fall);
    out.rise_time = rise(in, loop, slots, at);
    const double line = in.signals.set_mv * 1e-3 + sign * in.signals.tolerance_mv * 1e-3 * at();
    out.signal = in.signals.follows_supply ? station : line;
    return out;
  }

  template <class At>
  static double behind_entry(const BoardSide& board, double entry, bool high, At&& at) {
    const double place = high ? 1 - at() : at();
    const double drop_most = board.drop_most_mv * 1e-3;
    if (board.entry == EntryKind::before_diode) {
      const double least = board.drop_least_mv * 1e-3;
      return std::max(0.0, entry - least - (drop_most - least) * place);
    }
    if (board.entry == EntryKind::before_regulator) {
      const double most = board.output_most_mv * 1e-3;
      const double output = most - (most - board.output_least_mv * 1e-3) * place;
      return std::max(0.0, std::min(output, entry - drop_most * place));
    }
    return entry;
  }

private:
  static double greatest_load(const Inputs& in) {
    double most = 0;
    for (const PhaseSetting& setting : in.phases) {
      most = std::max(most, setting.load_ua * 1e-6);
    }
    return most;
  }

  // rho * l / A, with A of the gauge (ASTM B258), rho and its rise of annealed copper (IEC 60028).
  static double wire_ohm(const Case& one, double place) {
    const double diameter = 0.127 * std::pow(92.0, (36.0 - one.awg) / 39.0);
    const double area = std::acos(-1.0) * diameter * diameter / 4;
    const double celsius = -40 + (one.in.cable.wire_c + 40) * place;
    return 0.017241 * (1 + 0.00393 * (celsius - 20)) * one.in.cable.length_mm * 1e-3 / area;
  }

  template <class At>
  static double contacts_ohm(const Inputs& in, At& at) {
    double ohm = 0;
    for (std::uint32_t contact = 0; contact < in.contacts.there + in.contacts.back; ++contact) {
      ohm += in.contacts.new_uohm * 1e-6 +
             (in.contacts.worn_uohm - in.contacts.new_uohm) * 1e-6 * at();
    }
    return ohm;
  }

  // What lets a board's voltage fall: through the station unless a diode is in the way, and through
  // the board's own resistor.
  static double leak(const Inputs& in, double path) {
    const bool back = in.station.bleed_ohm && in.board.entry != EntryKind::before_diode;
    return (back ? 1 / (*in.station.bleed_ohm + path) : 0) +
           (in.board.bleed_ohm ? 1.0 / *in.board.bleed_ohm : 0);
  }

  template <class At>
  static double rise(const Inputs& in, double loop, int slots, At& at) {
    const PhaseSetting& low = in.phases[in.phases.size() - 2];
    const PhaseSetting& high = in.phases[in.phases.size() - 1];
    const auto off = [&](const PhaseSetting& setting) {
      return in.station.tolerance_mv * 1e-3 +
             setting.set_mv * 1e-3 * in.station.tolerance_ppm * 1e-6;
    };
    const double load = high.load_ua * 1e-6 * at();
    const double others = greatest_load(in) * (slots - 1) * at();
    const double from = low.set_mv * 1e-3 - off(low) * at() - low.load_ua * 1e-6 * at() * loop -
                        (low.load_ua * 1e-6 + others) * in.station.shared_return_uohm * 1e-6 * at();
    const double to = high.set_mv * 1e-3 + off(high) * at();
    const double share =
        std::min(in.station.slot_limit_ua * 1e-6, in.station.all_limit_ua * 1e-6 / slots);
    return share <= load ? -1
                         : in.board.capacitance_nf * 1e-9 * at() * (to - from) / (share - load);
  }

  static double charge(const Inputs& in, double volts, int slots, double place) {
    const double share =
        std::min(in.station.slot_limit_ua * 1e-6, in.station.all_limit_ua * 1e-6 / slots);
    const double spare = share - in.board.start_ua * 1e-6 * place;
    return spare <= 0 ? -1 : in.board.capacitance_nf * 1e-9 * place * volts / spare;
  }
};

} // namespace cardseal::supply
