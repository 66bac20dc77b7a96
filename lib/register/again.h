// Boards that come back with the numbers they have. Inside this module.
#pragma once

#include "register/rows.h"

namespace cardseal::registry {

// Every ordinal was given to a card of this product, a log says a board got it, nobody said that no
// board has it any more, and no other card that names it is still out. Refused: again-unknown,
// again-gone, again-other (another product, or not of the parent), again-out, again-spans.
Try<void> check_again(Database& database, const SetRequest& set, const CardRequest& card);

Try<void> insert_again(Database& database, const AllotmentRow& row);

// Of an allotment's units those whose board a later card names.
Try<std::vector<Range>> taken_back(Database& database, const AllotmentRow& row);

// As the list of allotments reads them: "first count,first count".
std::vector<Range> read_spans(const std::string& text);

} // namespace cardseal::registry
