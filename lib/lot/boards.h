// Boards of a card that come back with the numbers they have, as an order names them.
#pragma once

#include <vector>

#include "lot/order.h"
#include "package/package.h"

namespace cardseal::lot {

struct Boards {
  format::List<format::OrdinalRange, 16> spans; // rising, with room between
  std::vector<Error> errors;                    // each with its line; then spans say nothing
};

// Codes: order-numbers (not of class rework, units and boards differ, too many groups, a scheme
// without texts for labels), order-board-serial (no serial of this scheme, or not the same in this
// lot; twice).
Boards boards_of(const Order& order, const OrderCard& card, const format::Manifest& manifest);

} // namespace cardseal::lot
