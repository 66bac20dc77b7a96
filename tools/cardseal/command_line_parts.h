// Options that many subcommands have.
#pragma once

#include <functional>

#include "../cli/cli.h"

#include "commands.h"

namespace cardseal::tool {

// Adds a subcommand: name, what it does, example, what it runs, its --json.
using AddCommand = std::function<CLI::App*(const char*, const char*, const char*,
                                           std::function<Ran()>, const bool*)>;

inline void add_json(CLI::App* app, bool& json) {
  app->add_flag("--json", json, "the result as JSON, schema 1");
}

inline void add_passphrase(CLI::App* app, KeySource& key) {
  app->add_option("--passphrase-file", key.passphrase.file, "its first line is the passphrase");
  app->add_option("--passphrase-fd", key.passphrase.descriptor,
                  "a descriptor whose first line is the passphrase");
}

inline void add_key(CLI::App* app, KeySource& key, const char* what) {
  app->add_option("--key", key.file, what)->required();
  add_passphrase(app, key);
}

} // namespace cardseal::tool
