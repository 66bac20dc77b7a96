// A card as people name it.
#pragma once

#include "common.h"
#include "format/card_texts.h"

namespace cardseal::tool {

// By its id, 16 hex digits, or by its image: nothing of that is verified.
Try<format::CardId> card_id_of(const std::string& card);

} // namespace cardseal::tool
