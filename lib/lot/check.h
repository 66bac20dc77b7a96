// An order held against its package and, where there is one, against the register.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lot/account.h"
#include "lot/order.h"
#include "package/package.h"
#include "profile/device.h"

namespace cardseal::lot {

// What is wrong, each with its line; empty: its cards can be made. Codes: order-release,
// order-board, order-model, order-slots, order-boards, order-engineering, order-lock, order-rework,
// order-date-code, order-silicon (also where the order names revisions and no `device` is given),
// and those of boards.h; with `account`, of the same work order, also order-closed, order-merged,
// order-revision, order-other, order-place, order-continues, order-first-article. `device`: its
// profile, which alone knows the revisions of the silicon; a package does not.
std::vector<Error> check_order(const Order& order, const package::Package& package,
                               const Account* account, const profile::Device* device = nullptr);

// Cards of the order whose place has none yet.
std::vector<OrderCard> cards_to_make(const Order& order, const Account* account);

// What the register keeps of an order.
registry::OrderRow row_of(const Order& order, const package::Package& package);

} // namespace cardseal::lot
