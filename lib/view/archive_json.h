#pragma once

#include <string>
#include <vector>

#include "archive/archive.h"

namespace cardseal::view {

std::string json_of(const std::vector<archive::Item>& items);
std::string json_of_scrub(std::uint64_t objects, const std::vector<std::string>& problems);

} // namespace cardseal::view
