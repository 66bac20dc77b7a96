// The options of `cardseal serial units` and `cardseal serial proof`.
#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_scheme_commands(const AddCommand& add);

} // namespace cardseal::tool
