// `cardseal reconcile`: what came back.
#pragma once

#include "commands.h"

namespace cardseal::tool {

struct TallyOptions {
  std::string card; // its id; empty: no tally
  std::uint64_t issued = 0;
  std::uint64_t good = 0;
  std::uint64_t scrap = 0;
  std::string counter;               // BEFORE:AFTER
  std::string initials;              // ONE:OTHER
  std::vector<std::string> scrapped; // ordinals; with a package, serials
  std::vector<std::string> no_board; // likewise
  std::string package;               // of a lot report too: for label texts and sign-offs
};

struct ReconcileOptions {
  std::vector<std::string> logs;
  std::string registered;
  TallyOptions tally;
  std::string output; // the lot report; empty: none
  bool force = false;
  bool dry_run = false;
  bool json = false;
};
Ran run_reconcile(const ReconcileOptions& options);

} // namespace cardseal::tool
