// What the drawings need: places and lengths, counted here and drawn by the templates. Inside this
// module.
#pragma once

#include "format/facts.h"
#include "page/fields.h"

namespace cardseal::page {

// A box a slot, slot 1 leftmost, as far as `of` reaches: SLOT rows with ON or OFF.
void put_slots(Fields& page, std::uint32_t on, std::uint32_t of);
// Strips of memory that lie close together, each with a scale of its own: STRIP rows.
void put_memory(Fields& page, const format::Manifest& manifest);
// For each phase the worst supply against every limit, all on one scale: BANDS rows.
void put_bands(Fields& page, const format::Facts& facts);

} // namespace cardseal::page
