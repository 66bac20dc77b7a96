// What the subcommands `trace` and `recall` are asked for.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "commands.h"

namespace cardseal::tool {

struct TraceOptions {
  std::string serial; // empty: by ordinal
  std::optional<std::uint64_t> ordinal;
  std::string registered;
  std::vector<std::string> packages;
  std::vector<std::string> logs; // card images, devices or copied logs
  std::string root;              // empty with `trust`: who may sign is not looked at
  std::string trust;
  bool json = false;
};
Ran run_trace(const TraceOptions& options);

struct RecallOptions {
  std::vector<std::string> where;     // KEY=VALUE
  std::vector<std::string> registers; // of all desks
  std::vector<std::string> packages;
  std::vector<std::string> logs; // card images, devices or copied logs
  std::string output;            // the page; empty: none
  bool force = false;
  std::string units; // write one line a unit to this file; empty: don't
  bool json = false;
};
Ran run_recall(const RecallOptions& options);

} // namespace cardseal::tool
