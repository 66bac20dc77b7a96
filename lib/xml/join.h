// Pieces of a message put together.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>

namespace cardseal::xml {

inline std::string joined(std::initializer_list<std::string_view> pieces) {
  std::string out;
  for (const std::string_view piece : pieces) {
    out.append(piece);
  }
  return out;
}

inline std::string tag(std::string_view name) {
  return joined({"<", name, ">"});
}

inline std::string quoted(std::string_view text) {
  return joined({"\"", text, "\""});
}

} // namespace cardseal::xml
