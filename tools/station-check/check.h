// What station-check does, apart from its command line: make a station's memory, and let the
// station's own code judge a card.
#pragma once

#include <string>

#include "io/system.h"
#include "loader/station.h"
#include "view/station_verdict.h"

namespace cardseal::station_check {

struct EnrolOptions {
  std::string name;
  std::string model;
  std::uint32_t slots = 1; // how many; the first is slot 1
  std::string supply;      // LOW:HIGH:STEP, millivolts
  bool own_supply_ok = false;
  bool no_log = false;
  std::uint32_t enrolment = 1;
  std::string root;
  std::string state;
};

struct CheckOptions {
  std::uint16_t job = 1; // of several on the card, as an operator chooses it
  std::string card;
  std::string root;
  std::string state;
};

Try<void> enrol(io::System& system, const EnrolOptions& options);

using Verdict = view::StationVerdict;

// Admission, then the whole image as a cycle would use it. A newer trust list is kept in the
// state, as a station does.
Try<Verdict> check(io::System& system, const CheckOptions& options);

} // namespace cardseal::station_check
