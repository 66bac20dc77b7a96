// The units at which a serial scheme is looked at before it is signed: first and last, both sides
// of every carry, of every byte's edge and of what is left out, and a sample between.
#pragma once

#include <string>
#include <vector>

#include "unit/unit.h"

namespace cardseal::serial {

struct ProofUnit {
  std::uint64_t ordinal = 0;
  std::string why; // "first", "before a carry to 2 digits", ...
};

// Rising by ordinal, none twice, within [first, last] of the scheme.
std::vector<ProofUnit> proof_units(const unit::Serials& serials, std::uint64_t first,
                                   std::uint64_t last);

} // namespace cardseal::serial
