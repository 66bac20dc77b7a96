// Rows as the database gives them; inside `register` only.
#pragma once

#include <algorithm>

#include "register/ledger.h"

namespace cardseal::registry {

extern const char* const allotment_select; // SELECT ... FROM ..., a condition may follow
const char* allotments_in_order();         // all of them, by id
AllotmentRow read_allotment(const Query& query);

// SELECT ... of all rows, without an order; `entry`: what made the row.
extern const char* const order_columns;
OrderRow read_order(const Query& query, std::uint64_t& entry);
extern const char* const settled_columns;
Settlement read_settled(const Query& query, std::uint64_t& entry);
extern const char* const statement_columns;
Statement read_statement(const Query& query, std::uint64_t& entry);

Fate fate_of(std::string_view word); // as the table has it

template <class E, std::size_t N>
E value_of(std::string_view word, const std::array<std::string_view, N>& words) {
  const auto at = std::find(words.begin(), words.end(), word); // the table allows no other
  return static_cast<E>(at - words.begin());
}

} // namespace cardseal::registry
