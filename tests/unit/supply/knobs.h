// Every given of the supply calculation by its id, for tests that turn one at a time.
#pragma once

#include <cstdint>
#include <functional>
#include <string_view>
#include <type_traits>
#include <vector>

#include "supply/inputs.h"

namespace cardseal::supply {

// One given, and how to set it; `step` worsens what it enters.
struct Knob {
  std::string_view id;
  std::int64_t step;
  std::function<void(Inputs&, std::int64_t)> set;
};

#define KNOB(id, step, field)                                                                      \
  {                                                                                                \
    id, step, [](Inputs& in, std::int64_t value) {                                                 \
      in.field = static_cast<std::remove_reference_t<decltype(in.field)>>(value);                  \
    }                                                                                              \
  }

inline const std::vector<Knob>& knobs() {
  static const std::vector<Knob> all = {
      KNOB("tolerance-mv", 5, station.tolerance_mv),
      KNOB("tolerance-ppm", 5'000, station.tolerance_ppm),
      KNOB("slots-on", 1, station.slots_on),
      KNOB("slot-limit-ua", -5'000, station.slot_limit_ua),
      KNOB("all-limit-ua", -5'000, station.all_limit_ua),
      KNOB("shared-return-uohm", 3'000, station.shared_return_uohm),
      KNOB("settle-us", -1, station.settle_us),
      KNOB("wait-us", -1, station.wait_us),
      KNOB("bleed-ohm", 10, station.bleed_ohm),
      KNOB("removal-mv", -1, station.removal_mv),
      KNOB("signal-set-mv", 0, signals.set_mv), // up worsens one side, down the other
      KNOB("signal-tolerance-mv", 5, signals.tolerance_mv),
      KNOB("signal-min-mv", 1, board.signal_min_mv),
      KNOB("signal-max-mv", -1, board.signal_max_mv),
      KNOB("signal-over-mv", -1, board.signal_over_mv),
      KNOB("cable-length-mm", 200, cable.length_mm),
      KNOB("cable-uohm-per-m", 100'000, cable.uohm_per_m),
      KNOB("cable-c", 25, cable.wire_c),
      KNOB("contacts-there", 1, contacts.there),
      KNOB("contacts-back", 1, contacts.back),
      KNOB("contact-new-uohm", 0, contacts.new_uohm),
      KNOB("contact-worn-uohm", 20'000, contacts.worn_uohm),
      KNOB("entry-min-mv", 1, board.entry_min_mv),
      KNOB("entry-max-mv", -1, board.entry_max_mv),
      KNOB("drop-least-mv", -1, board.drop_least_mv),
      KNOB("drop-most-mv", 20, board.drop_most_mv),
      KNOB("output-least-mv", -20, board.output_least_mv),
      KNOB("output-most-mv", 20, board.output_most_mv),
      KNOB("start-ua", 1'000, board.start_ua),
      KNOB("capacitance-nf", 1'000'000, board.capacitance_nf),
      KNOB("board-bleed-ohm", 100, board.bleed_ohm),
      KNOB("operating-min-mv", 1, device.operating_min_mv),
      KNOB("program-min-mv", 1, device.program_min_mv),
      KNOB("program-max-mv", -1, device.program_max_mv),
      KNOB("erase-min-mv", 1, device.erase_min_mv),
      KNOB("erase-max-mv", -1, device.erase_max_mv),
      KNOB("operating-max-mv", 0, device.operating_max_mv),
      KNOB("absolute-max-mv", -1, device.absolute_max_mv),
  };
  return all;
}

#undef KNOB

} // namespace cardseal::supply
