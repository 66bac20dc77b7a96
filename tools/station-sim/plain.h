// A simulated station that reads a plain firmware file and checks nothing: somebody keys in the
// settings of the set-up sheet, and what comes back is a count on its display.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "board.h"
#include "scenario.h"

namespace cardseal::station_sim {

struct PlainSerial {
  std::uint64_t address = 0;
  std::string first;       // of the first board; text whose last digits are counted up
  std::uint8_t binary = 0; // bytes, the lowest first, of a number; 0: text

  // Of the board that comes so many later; empty when it does not fit.
  io::Bytes bytes(std::uint64_t step) const;
};

struct PlainSettings {              // keyed in by hand
  std::string file;                 // on the card
  std::uint32_t slots = 1;          // bit 0 is slot 1
  std::uint32_t boards = 0;         // that were issued
  std::uint32_t units = 0;          // numbers at hand: the station stops there
  std::uint64_t counter = 0;        // of programmed boards, as it stands before
  std::vector<PlainSerial> serials; // of every board
};

struct PlainReport {
  std::uint64_t used = 0; // numbers
  std::uint32_t good = 0;
  std::vector<std::uint64_t> scrap; // places of their numbers, from 0
  std::uint32_t cycles = 0;
  std::map<std::string, std::uint32_t> outcomes; // of tries
  std::map<std::uint64_t, io::Bytes> dumps;      // Intel HEX by place
};

// "FN000061" counted up by `step`; empty when its digits don't reach.
std::string counted_up(const std::string& first, std::uint64_t step);

// `dumps`: places of the boards whose memory is wanted. Errors: those of reading card and firmware
// file; sim-file, sim-serial.
Try<PlainReport> work_plain(io::System& system, const std::string& card,
                            const PlainSettings& settings, const Scenario& scenario,
                            const profile::Device* device, const std::vector<std::uint64_t>& dumps);

} // namespace cardseal::station_sim
