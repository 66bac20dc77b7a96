// Rows as the database gives them; inside `register` only.
#pragma once

#include "register/ledger.h"

namespace cardseal::registry {

extern const char* const allotment_columns; // SELECT ... ORDER BY id
AllotmentRow read_allotment(const Query& query);

Fate fate_of(std::string_view word); // as the table has it

} // namespace cardseal::registry
