#pragma once

#include <string>

#include "trace/trace.h"

namespace cardseal::view {

// A package that was not given has only its digest.
std::string json_of(const trace::Answer& answer);

} // namespace cardseal::view
