// Bytes spelled as hex in tests; spaces between them are allowed.
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string_view>
#include <vector>

namespace cardseal::test {

inline std::vector<std::uint8_t> unhex(std::string_view text) {
  std::vector<std::uint8_t> out;
  int high = -1;
  for (const char c : text) {
    if (c == ' ') {
      continue;
    }
    const std::size_t digit = std::string_view("0123456789abcdef").find(c);
    if (digit == std::string_view::npos) {
      throw std::invalid_argument("not a lower-case hex digit");
    }
    if (high < 0) {
      high = static_cast<int>(digit);
    } else {
      out.push_back(static_cast<std::uint8_t>(high * 16 + static_cast<int>(digit)));
      high = -1;
    }
  }
  if (high >= 0) {
    throw std::invalid_argument("half a byte");
  }
  return out;
}

} // namespace cardseal::test
