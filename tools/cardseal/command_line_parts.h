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

// A private key that is here, or two steps with one that is not.
inline void add_key_or_elsewhere(CLI::App* app, KeySource& key, Elsewhere& elsewhere,
                                 const char* what) {
  CLI::Option* here = app->add_option("--key", key.file, what);
  add_passphrase(app, key);
  app->add_option("--public-key", elsewhere.public_key,
                  "where the private key is elsewhere, on a token or another machine")
      ->excludes(here);
  CLI::Option* bytes = app->add_option(
      "--signed-bytes", elsewhere.signed_bytes,
      "with --public-key: write to this file what is to be signed, and add nothing");
  app->add_option("--attach", elsewhere.attach,
                  "with --public-key: add this signature over those bytes, 64 raw bytes")
      ->excludes(bytes);
}

inline void add_key(CLI::App* app, KeySource& key, const char* what) {
  app->add_option("--key", key.file, what)->required();
  add_passphrase(app, key);
}

} // namespace cardseal::tool
