// A recall as JSON, schema 1.
#pragma once

#include <string>
#include <vector>

#include "recall/recall.h"

namespace cardseal::view {

std::string json_of(const recall::Question& question, const recall::Answer& answer,
                    const std::vector<std::string>& sources);

} // namespace cardseal::view
