// The options of `cardseal reconcile`.
#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_reconcile_command(const AddCommand& add);

} // namespace cardseal::tool
