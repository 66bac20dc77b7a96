// What `cardseal diff` found, as JSON, schema 1.
#pragma once

#include <string>

#include "compare/differences.h"

namespace cardseal::view {

std::string json_of(const compare::Side& a, const compare::Side& b, const compare::Report& report);

} // namespace cardseal::view
