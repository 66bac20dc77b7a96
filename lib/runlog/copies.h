// Several logs of one card laid together. Inside this module.
#pragma once

#include "runlog/log_file.h"

namespace cardseal::runlog {

struct Copies {
  format::CardId card{};
  std::string file;                       // the first of them
  std::vector<format::LogRecord> records; // each once; station, session, cycle, slot, try, in order
  // Neither of two logs holds all that the other does: two cards of one id were worked with. A log
  // that was read earlier holds less, and nothing of its own.
  bool diverged = false;
};

// One for each card, in the order in which the cards first come. A record of two outcomes stays
// two.
std::vector<Copies> lay_together(const std::vector<LogFile>& logs);

} // namespace cardseal::runlog
