// What set-up sheet and label share. Inside this module.
#pragma once

#include "page/fields.h"
#include "page/page.h"

namespace cardseal::page {

// Card, station, work order, release, fingerprint, units and their serials.
Try<void> put_card(Fields& page, const CardInput& input);
// The code of card id and fingerprint, drawn.
Try<void> put_code(Fields& page, const CardInput& input, CodeKind kind);
// What to do for each number that a station can show, grouped by whom to ask.
void put_refusals(Fields& page);
bool is_signed_card(const format::CardIndex& index); // else its station reads plain files
// Every setting to key in at a station that reads plain files; on a signed card whether it has a
// log.
Try<void> put_plain(Fields& page, const CardInput& input);

} // namespace cardseal::page
