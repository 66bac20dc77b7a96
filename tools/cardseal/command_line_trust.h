// The options of `cardseal trust`'s subcommands.
#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_trust_commands(const AddCommand& add);

} // namespace cardseal::tool
