// What a register holds, as JSON, schema 1.
#pragma once

#include <string>
#include <vector>

#include "register/register.h"

namespace cardseal::view {

std::string json_of(const registry::Enrolled& station);
std::string json_of(const registry::Range& range, const std::string& scheme);
std::string json_of(const registry::Head& head, const std::vector<std::string>& problems);
Try<std::string> json_of_register(registry::Register& numbers);

} // namespace cardseal::view
