// Text as wide as the terminal that it is read on.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace cardseal::tool {

// COLUMNS, when it is set; else the terminal's own width; 80 where there is no terminal. At least
// 40.
std::size_t terminal_width();

// Lines longer than `width` bytes go on below, behind the column in which their value starts. They
// part at blanks alone: a word that is wider than that, such as a digest, has a line of its own,
// and nothing is cut.
std::string wrapped(std::string_view text, std::size_t width);

} // namespace cardseal::tool
