// What `card lost` is asked for.
#pragma once

#include <string>

#include "commands.h"

namespace cardseal::tool {

struct CardLostOptions {
  std::string card; // its id, or its image
  std::string registered;
  std::string root;
  std::string trust;
  KeySource key;
  Elsewhere elsewhere;
  std::string by;
  std::string note;
  std::string reason;  // in the withdrawal
  std::string time;    // claimed; empty: the clock
  std::string confirm; // what is stopped, instead of typing it
  std::string output;  // the withdrawal; one for each package on the card
};
Ran run_card_lost(const CardLostOptions& options);

} // namespace cardseal::tool
