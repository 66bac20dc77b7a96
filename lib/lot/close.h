// What quality signs when a lot is closed, but for who signs it.
#pragma once

#include "lot/account.h"
#include "package/package.h"

namespace cardseal::lot {

struct Closing {
  const Account& account;
  const std::vector<package::Package>& packages; // all that its cards were made from
  registry::Head head;                           // of the register when it was counted
  format::Maybe<format::Labels> labels; // counted by hand, of cards whose labels were not scanned
};

// Refused: lot-closed, lot-merged, lot-open (the first blocking point, and how many),
// package-missing, labels-sum, labels-boards, labels-counted, lot-size (more cards, packages or
// points than a text holds).
Try<format::Close> close_text(registry::Register& numbers, const Closing& closing);

} // namespace cardseal::lot
