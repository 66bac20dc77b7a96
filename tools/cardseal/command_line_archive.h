#pragma once

#include "command_line_parts.h"

namespace cardseal::tool {

void add_archive_commands(const AddCommand& add);

} // namespace cardseal::tool
