#include "supply/inputs.h"

#include <algorithm>
#include <utility>

#include "supply/copper.h"
#include "supply/times.h"

namespace cardseal::supply {
namespace {

constexpr std::int64_t most_mv = 60'000;
constexpr std::int64_t most_drop_mv = 10'000;
constexpr std::int64_t most_contact_uohm = 100'000'000;
constexpr std::int64_t most_wait_us = 1'000'000'000;

class Collector {
public:
  std::vector<Given> run(const Inputs& in) {
    add_station(in.station);
    add_signals(in.signals, in.board);
    add_path(in.cable, in.contacts);
    add_board(in.board);
    add_device(in.device);
    for (const PhaseSetting& setting : in.phases) {
      givens_.push_back({"set-mv", setting.phase, setting.set_mv, 1, most_mv});
      givens_.push_back({"load-ua", setting.phase, setting.load_ua, 0, most_ua});
    }
    return std::move(givens_);
  }

  std::vector<Given> run(const OwnInputs& in) {
    add_signals(in.signals, in.board);
    add("own-min-mv", in.board.entry_min_mv, 0, most_mv);
    add("own-max-mv", in.board.entry_max_mv, in.board.entry_min_mv, most_mv);
    add_between(in.board);
    add_device(in.device);
    return std::move(givens_);
  }

private:
  void add(std::string_view id, std::int64_t value, std::int64_t least, std::int64_t most) {
    givens_.push_back({id, Phase::all, value, least, most});
  }

  void add_station(const StationSide& station) {
    add("tolerance-mv", station.tolerance_mv, 0, 10'000);
    add("tolerance-ppm", station.tolerance_ppm, 0, 500'000);
    add("slots-on", station.slots_on, 1, 32);
    add("slot-limit-ua", station.slot_limit_ua, 0, most_ua);
    add("all-limit-ua", station.all_limit_ua, station.slot_limit_ua, most_ua);
    add("shared-return-uohm", station.shared_return_uohm, 0, most_contact_uohm);
    add("settle-us", station.settle_us, 0, most_wait_us);
    add("wait-us", station.wait_us, 0, most_wait_us);
    if (station.bleed_ohm) {
      add("bleed-ohm", *station.bleed_ohm, 1, 1'000'000);
    }
    add("removal-mv", station.removal_mv, 1, most_mv);
  }

  void add_signals(const Signals& signals, const BoardSide& board) {
    if (!signals.follows_supply) {
      add("signal-set-mv", signals.set_mv, 1, most_mv);
      add("signal-tolerance-mv", signals.tolerance_mv, 0, 10'000);
      add("signal-min-mv", board.signal_min_mv, 0, most_mv);
    }
    add("signal-max-mv", board.signal_max_mv, 1, most_mv);
    add("signal-over-mv", board.signal_over_mv, 0, most_mv);
  }

  void add_path(const Cable& cable, const Contacts& contacts) {
    add("cable-length-mm", cable.length_mm, 0, most_length_mm);
    add("cable-uohm-per-m", cable.uohm_per_m, 0, most_uohm_per_m);
    add("cable-c", cable.wire_c, least_wire_c, most_wire_c);
    add("contacts-there", contacts.there, 0, 8);
    add("contacts-back", contacts.back, 0, 8);
    add("contact-new-uohm", contacts.new_uohm, 0, most_contact_uohm);
    add("contact-worn-uohm", contacts.worn_uohm, contacts.new_uohm, most_contact_uohm);
  }

  void add_board(const BoardSide& board) {
    add("entry-min-mv", board.entry_min_mv, 0, most_mv);
    add("entry-max-mv", board.entry_max_mv, board.entry_min_mv, most_mv);
    add_between(board);
    add("start-ua", board.start_ua, 0, most_ua);
    add("capacitance-nf", board.capacitance_nf, 0, most_capacitance_nf);
    if (board.bleed_ohm) {
      add("board-bleed-ohm", *board.bleed_ohm, 1, 1'000'000);
    }
  }

  void add_between(const BoardSide& board) {
    if (board.entry == EntryKind::before_diode) {
      add("drop-least-mv", board.drop_least_mv, 0, most_drop_mv);
      add("drop-most-mv", board.drop_most_mv, board.drop_least_mv, most_drop_mv);
    }
    if (board.entry == EntryKind::before_regulator) {
      add("drop-most-mv", board.drop_most_mv, 0, most_drop_mv);
      add("output-least-mv", board.output_least_mv, 0, most_mv);
      add("output-most-mv", board.output_most_mv, board.output_least_mv, most_mv);
    }
  }

  void add_device(const DeviceSide& device) {
    add("operating-min-mv", device.operating_min_mv, 0, most_mv);
    add("program-min-mv", device.program_min_mv, device.operating_min_mv, most_mv);
    add("program-max-mv", device.program_max_mv, device.program_min_mv, most_mv);
    add("erase-min-mv", device.erase_min_mv, device.operating_min_mv, most_mv);
    add("erase-max-mv", device.erase_max_mv, device.erase_min_mv, most_mv);
    add("operating-max-mv", device.operating_max_mv,
        std::max(device.program_max_mv, device.erase_max_mv), most_mv);
    add("absolute-max-mv", device.absolute_max_mv, device.operating_max_mv, most_mv);
  }

  std::vector<Given> givens_;
};

std::optional<OutOfRange> phases_out_of_order(const std::vector<Phase>& phases, Phase last_phase) {
  const auto last = static_cast<std::int64_t>(last_phase);
  const auto count = static_cast<std::int64_t>(phases.size());
  if (const auto bad = first_out_of_range({{"phases", Phase::all, count, 1, last}})) {
    return bad;
  }
  std::int64_t least = 1;
  for (const Phase one : phases) {
    const auto phase = static_cast<std::int64_t>(one);
    if (const auto bad = first_out_of_range({{"phase", Phase::all, phase, least, last}})) {
      return bad;
    }
    least = phase + 1;
  }
  return std::nullopt;
}

} // namespace

std::vector<Given> givens(const Inputs& in) {
  return Collector().run(in);
}

std::optional<OutOfRange> out_of_range(const Inputs& in) {
  std::vector<Phase> phases;
  for (const PhaseSetting& setting : in.phases) {
    phases.push_back(setting.phase);
  }
  if (const auto bad = phases_out_of_order(phases, Phase::verify_high)) {
    return bad;
  }
  return first_out_of_range(givens(in));
}

std::vector<Given> givens(const OwnInputs& in) {
  return Collector().run(in);
}

std::optional<OutOfRange> out_of_range(const OwnInputs& in) {
  if (const auto bad = phases_out_of_order(in.phases, Phase::verify)) {
    return bad;
  }
  return first_out_of_range(givens(in));
}

} // namespace cardseal::supply
