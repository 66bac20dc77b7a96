#include <cstdio>
#include <exception>

#include "command_line.h"
#include "common.h"
#include "diag/exit.h"
#include "view/json.h"

namespace {

using namespace cardseal;

int report(const Error& error, bool json) {
  if (json) {
    tool::say(view::json_of(error));
  } else {
    tool::note("cardseal: " + describe(error));
  }
  return exit_code(error.kind);
}

// A result that could not be written is no result.
int finish(int code) {
  if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) {
    tool::note("cardseal: writing to standard output failed");
    return exit_code(ErrorKind::io);
  }
  return code;
}

int run(int argc, char** argv) {
  const auto chosen = tool::read_command_line(argc, argv);
  if (const int* code = std::get_if<int>(&chosen)) {
    return finish(*code);
  }
  const auto& command = std::get<tool::Chosen>(chosen);
  const tool::Ran ran = command.run();
  return finish(ran ? *ran : report(ran.error(), command.json));
}

} // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& thrown) {
    std::fprintf(stderr, "cardseal: our fault: %s\n", thrown.what());
    return exit_code(ErrorKind::internal);
  }
}
