// Strict UTF-8 (RFC 3629: shortest form, no surrogates, at most U+10FFFF), and which characters may
// stand in text that people read and sign.
#pragma once

#include <cstddef>
#include <string_view>

namespace cardseal {

struct Utf8Char {
  char32_t code = 0;
  std::size_t length = 0; // bytes; 0 when `text` does not start with a well-formed character
};

Utf8Char next_utf8(std::string_view text);
bool is_utf8(std::string_view text);

// False for controls, line and paragraph separators, bidirectional and zero-width characters, and
// non-characters: what can make a line read differently from what it says.
bool is_harmless(char32_t code);

} // namespace cardseal
