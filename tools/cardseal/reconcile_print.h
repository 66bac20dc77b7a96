// What came back, for a person.
#pragma once

#include <vector>

#include "runlog/tally.h"
#include "runlog/yields.h"

namespace cardseal::tool {

struct Kept { // by the register, of an allotment
  std::uint64_t allotment = 0;
  std::uint64_t begun = 0;
  std::uint64_t good = 0;
  std::uint64_t new_entries = 0; // of this run, over all its allotments
};

void print_account(const runlog::Account& account, const runlog::Yields& yields);
void print_tally(const runlog::TallyAccount& account);
void print_kept(const std::vector<Kept>& kept, bool dry_run);

} // namespace cardseal::tool
