// Units of a lot, as people name them: by label, or by card and place on it.
#pragma once

#include "common.h"
#include "lot/account.h"
#include "package/package.h"

namespace cardseal::tool {

// "3 to 5 (FN000003 to FN000005)": places on the card, with labels where a package tells them.
std::string units_words(const registry::AllotmentRow& row, const registry::Range& units,
                        const std::vector<package::Package>& packages);

// "3,7-9": places on a card, 1 the first; ranges ascending from 0.
Try<std::vector<registry::Range>> to_places(const std::string& text);

// The lot's card of this id, 16 hex digits (card-other).
Try<const lot::CardAccount*> card_of(const lot::Account& account, const std::string& id);

struct UnitAt {
  const lot::CardAccount* card = nullptr;
  std::uint64_t place = 0; // from 0
};
// The lot's unit of this label, as one of the packages reads it (no-serial, unit-other).
Try<UnitAt> unit_of_label(const lot::Account& account,
                          const std::vector<package::Package>& packages, const std::string& serial);

void say_account(const lot::Account& account, const std::vector<package::Package>& packages);

} // namespace cardseal::tool
