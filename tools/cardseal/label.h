// From a label back to a unit.
#pragma once

#include "common.h"
#include "package/package.h"

namespace cardseal::tool {

// The ordinal of a serial as it stands on the label (no-serial). Date code and class are taken from
// the text itself.
Try<std::uint64_t> ordinal_of(const package::Package& package, const std::string& serial);

} // namespace cardseal::tool
