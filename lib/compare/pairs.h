// Which line of one list goes with which of the other. Inside this module.
#pragma once

#include "compare/table.h"

namespace cardseal::compare {

struct Pair { // one of them is null: the item is in one list only
  const Line* a = nullptr;
  const Line* b = nullptr;
};

// What differs between two lists of one key: equal items cancel each other; of the others, those
// with the same name go together, in their order.
std::vector<Pair> pairs(const std::vector<const Line*>& a, const std::vector<const Line*>& b,
                        const Row& row);

} // namespace cardseal::compare
