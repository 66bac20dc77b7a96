// Words that stand for sealed values, kept in templates/pages/words.txt apart from the code, a line
// each: `group.value  words`. Inside this module.
#pragma once

#include <array>
#include <string>
#include <string_view>

namespace cardseal::page {

// The words of `group.value`; the value itself when there are none.
std::string words_of(std::string_view group, std::string_view value);

template <class E, std::size_t N>
std::string words_of(std::string_view group, E value,
                     const std::array<std::string_view, N>& sealed) {
  return words_of(group, sealed[static_cast<std::size_t>(value)]);
}

} // namespace cardseal::page
