// The options of `cardseal serial`'s subcommands for registers.
#pragma once

#include <functional>

#include "../cli/cli.h"

#include "commands.h"

namespace cardseal::tool {

// Adds a subcommand: name, what it does, example, what it runs, its --json.
using AddCommand = std::function<CLI::App*(const char*, const char*, const char*,
                                           std::function<Ran()>, const bool*)>;
void add_register_commands(const AddCommand& add);

} // namespace cardseal::tool
