// What the subcommand `trace` is asked for.
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
  std::string root; // empty with `trust`: who may sign is not looked at
  std::string trust;
  bool json = false;
};
Ran run_trace(const TraceOptions& options);

} // namespace cardseal::tool
