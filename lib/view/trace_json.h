#pragma once

#include <map>
#include <string>

#include "trace/trace.h"

namespace cardseal::view {

// A package that was not given has only its digest.
// `judged`: how each stands by root and trust list; one that is not there was not looked at.
std::string json_of(const trace::Answer& answer,
                    const std::map<const package::Package*, Outcome>& judged);

} // namespace cardseal::view
