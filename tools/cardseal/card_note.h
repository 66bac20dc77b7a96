// What becomes of a card, as the register keeps it.
#pragma once

#include "common.h"
#include "register/register.h"

namespace cardseal::tool {

// Of 16 hex digits, or of the image or card of that name.
Try<format::CardId> card_id_of(const std::string& card);

} // namespace cardseal::tool
