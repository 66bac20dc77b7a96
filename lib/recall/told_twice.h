// Units that stand for a board which another unit stands for already. Inside this module.
#pragma once

#include "recall/recall.h"

namespace cardseal::recall {

// By list. Of the units of one board (other numbers, other runs) one counts, in the worst list that
// any of them is in.
std::array<std::uint64_t, list_words.size()> told_twice(const Question& question,
                                                        const Answer& answer);

} // namespace cardseal::recall
