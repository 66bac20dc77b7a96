// What `cardseal diff` prints for people.
#pragma once

#include "compare/differences.h"

namespace cardseal::tool {

void print(const compare::Side& first, const compare::Side& second, const compare::Report& report);

} // namespace cardseal::tool
