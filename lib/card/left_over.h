// Files that desktop systems put on a card that was merely in their reader.
#pragma once

#include <string_view>

namespace cardseal::card {

// By name and folder alone; case does not count. Files that a repair makes are none of them: there
// something was wrong. Names from memory, checked against no source.
bool is_left_over(std::string_view path);

} // namespace cardseal::card
