// Rows as the database gives them; inside `register` only.
#pragma once

#include <algorithm>

#include "register/ledger.h"

namespace cardseal::registry {

extern const char* const allotment_select; // SELECT ... FROM ..., a condition may follow
const char* allotments_in_order();         // all of them, by id
AllotmentRow read_allotment(const Query& query);
Try<std::vector<AllotmentRow>> allotments_with(Database& database, std::string_view scheme,
                                               std::uint64_t ordinal);

// SELECT ... of all rows, without an order; `entry`: what made the row.
extern const char* const order_columns;
OrderRow read_order(const Query& query, std::uint64_t& entry);
extern const char* const settled_columns;
Settlement read_settled(const Query& query, std::uint64_t& entry);
extern const char* const rework_columns;
Rework read_rework(const Query& query, std::uint64_t& entry);
extern const char* const label_columns;
LabelNote read_label(const Query& query, std::uint64_t& entry);
extern const char* const stop_columns;
Stop read_stop(const Query& query, std::uint64_t& entry);
extern const char* const merge_columns;
Merge read_merge(const Query& query, std::uint64_t& entry);
extern const char* const statement_columns;
Statement read_statement(const Query& query, std::uint64_t& entry);

// Rows of a query whose statement was bound, each read by `read`.
template <class Row>
Try<std::vector<Row>> rows_of(Query& query, Row (*read)(const Query&, std::uint64_t&)) {
  std::vector<Row> rows;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return rows;
    }
    std::uint64_t entry = 0;
    rows.push_back(read(query, entry));
  }
}

Fate fate_of(std::string_view word); // as the table has it

template <class E, std::size_t N>
E value_of(std::string_view word, const std::array<std::string_view, N>& words) {
  const auto at = std::find(words.begin(), words.end(), word); // the table allows no other
  return static_cast<E>(at - words.begin());
}

} // namespace cardseal::registry
