// The options of `cardseal label`.
#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_label_commands(const AddCommand& add);

} // namespace cardseal::tool
