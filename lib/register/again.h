// Boards that come back with the numbers they have. Inside this module.
#pragma once

#include "register/ledger.h"

namespace cardseal::registry {

// Every ordinal was given to a card, a log says a board got it, and nobody said that no board has
// it any more. Refused: again-unknown, again-gone; again-spans when they don't rise with room
// between.
Try<void> check_again(Database& database, std::string_view scheme, const CardRequest& card);

Try<void> insert_again(Database& database, const AllotmentRow& row);

// As the list of allotments reads them: "first count,first count".
std::vector<Range> read_spans(const std::string& text);

} // namespace cardseal::registry
