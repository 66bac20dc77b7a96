// The subcommands of `serial` that work on a release's scheme.
#pragma once

#include "serial_source.h"

namespace cardseal::tool {

struct SerialUnitsOptions {
  SerialSourceOptions source;
  std::vector<std::string> units; // FIRST-LAST or one ordinal each
  bool json = false;
};
Ran run_serial_units(const SerialUnitsOptions& options);

struct SerialProofOptions {
  SerialSourceOptions source;
  std::string range; // FIRST-LAST; empty: the whole scheme
  std::string against;
  std::string against_range;
  bool json = false;
};
Ran run_serial_proof(const SerialProofOptions& options);

struct SerialWeekOptions {
  std::string day; // YYYY-MM-DD
};
Ran run_serial_week(const SerialWeekOptions& options);

} // namespace cardseal::tool
