// The command line: the only file of `cardseal` that knows the option parser.
#pragma once

#include <functional>
#include <variant>

#include "commands.h"

namespace cardseal::tool {

struct Chosen {
  std::function<Ran()> run;
  bool json = false; // errors too
};

// What to run, or an exit code when the parser already answered (help, version, a wrong option).
std::variant<Chosen, int> read_command_line(int argc, char** argv);

} // namespace cardseal::tool
