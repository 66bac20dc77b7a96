// A recall as JSON, schema 1.
#pragma once

#include <string>

#include "recall/recall.h"

namespace cardseal::view {

std::string json_of(const recall::Question& question, const recall::Answer& answer);

} // namespace cardseal::view
