// Several logs of one card laid together.
#pragma once

#include "register/types.h"
#include "runlog/log_file.h"

namespace cardseal::runlog {

struct Copies {
  format::CardId card{};
  std::string file;          // the first of them
  std::vector<Line> records; // each once; station, session, cycle, slot, try, in order
  // Of two logs, each has a record at a sector that is blank, or another record, in the other one:
  // two cards of one id were worked with. A log that was read earlier has nothing of its own, and a
  // sector that can't be read speaks for nothing.
  bool diverged = false;
  bool whole = false; // one of the logs is, and holds all the records
};

// Whether a record at this sector is in an allotment's share of its card's log: each unit has so
// many sectors, and allotments lie there in the order of the card's index (SPEC-station.md). What
// stands on a card of one allotment is that one's, wherever it stands.
bool holds(const registry::AllotmentRow& row, std::uint32_t sector);

// One for each card, in the order in which the cards first come. A record of two outcomes stays
// two.
std::vector<Copies> lay_together(const std::vector<LogFile>& logs);

} // namespace cardseal::runlog
