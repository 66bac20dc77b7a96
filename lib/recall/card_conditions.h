// Conditions that hold of a whole card or of none of its units. Inside this module.
#pragma once

#include "recall/recall.h"

namespace cardseal::recall {

enum class Match : std::uint8_t { no, unknown, yes };

struct Verdict {
  Match match = Match::yes;
  std::string reason; // of the first condition that decides
};

// What the register's row can't tell is looked up in the very package that it names; unknown, where
// that was not given.
Verdict judge_card(const Given& given, const std::vector<const package::Package*>& packages,
                   const std::vector<Condition>& conditions);

} // namespace cardseal::recall
