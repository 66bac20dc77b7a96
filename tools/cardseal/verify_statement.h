// What quality signed about a lot, as files of their own.
#pragma once

#include "common.h"

namespace cardseal::tool {

Ran verify_statement(const VerifyOptions& options);
Ran show_statement_json(const ShowOptions& options);

} // namespace cardseal::tool
