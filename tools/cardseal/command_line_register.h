// The options of `cardseal serial`'s subcommands for registers.
#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_register_commands(const AddCommand& add);

} // namespace cardseal::tool
