// Options that many subcommands have.
#pragma once

#include "../cli/cli.h"

namespace cardseal::tool {

inline void add_json(CLI::App* app, bool& json) {
  app->add_flag("--json", json, "the result as JSON, schema 1");
}

} // namespace cardseal::tool
