// The way back from a station that writes no log: what two people counted, as the set-up sheet asks
// for it. The counter is of boards at a station that reads plain files; at one that checks
// signatures it is of units taken, which a power cut takes too. Where it is not the boards that
// came back and the units without one, nobody knows which numbers the boards have, and none is
// good.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "register/types.h"
#include "runlog/account.h"

namespace cardseal::runlog {

struct Tally {
  std::uint64_t issued = 0; // boards given out to the station
  std::uint64_t good = 0;
  std::uint64_t scrap = 0;
  std::uint64_t counter_before = 0; // as the station shows it
  std::uint64_t counter_after = 0;
  std::array<std::string, 2> initials;
  std::vector<std::uint64_t> scrapped;      // ordinals of the scrap, as far as they are known
  std::vector<std::uint64_t> no_board = {}; // ordinals that the station took and no board got
};

struct TallyAccount {
  registry::AllotmentRow row;
  Tally tally;
  std::uint64_t used = 0;     // numbers, by the counter: from the first on
  std::uint64_t begun = 0;    // units that count as such: by the counter or the boards, the more
  std::uint64_t returned = 0; // boards that are neither good nor scrap: not worked, or set aside
  // Which units are good is known only when each scrapped one is named; else none is taken as good.
  bool good_known = false;
  Bits bits;
  std::vector<Problem> problems; // codes tally-boards, tally-counter, over-quota
};

// Errors: tally-initials (not two people), tally-counter (it ran backwards), tally-scrapped (an
// ordinal outside the numbers used, named twice, or more than were scrapped; so is one without a
// board), tally-boards (more
// good and scrap than were issued, or a number past 9,999,999).
Try<TallyAccount> judge_tally(const Tally& tally, const registry::AllotmentRow& row);

// Against what a register holds of the allotment, since it takes nothing back. Error tally-kept: a
// unit that is good there is scrap here, there would be more good ones than were counted, more were
// begun there, or they were not begun one after the other, as only the log of a station tells.
Try<void> judge_against(const TallyAccount& account, const Bits& kept);

} // namespace cardseal::runlog
