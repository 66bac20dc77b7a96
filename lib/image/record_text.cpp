#include "image/record_text.h"

#include <algorithm>
#include <array>

namespace cardseal::image {

bool is_comment(ByteView text) {
  return text[0] == ';' || text[0] == '#' || (text.size() > 1 && text[0] == '/' && text[1] == '/');
}

Trimmed trim(ByteView line, bool first_line) {
  Trimmed out;
  out.text = line;
  constexpr std::array<std::uint8_t, 3> mark{0xEF, 0xBB, 0xBF};
  if (first_line && line.size() >= mark.size() && equal(line.first(mark.size()), mark)) {
    out.mark = true;
    out.text = out.text.subspan(mark.size());
  }
  const std::size_t untrimmed = out.text.size();
  while (!out.text.empty() && is_space(out.text.front())) {
    out.text = out.text.subspan(1);
  }
  out.column += static_cast<std::uint32_t>(line.size() - out.text.size());
  while (!out.text.empty() && is_space(out.text.back())) {
    out.text = out.text.first(out.text.size() - 1);
  }
  out.spaces = out.text.size() != untrimmed;
  return out;
}

std::size_t text_end(ByteView line) {
  const auto at = std::find_if(line.begin(), line.end(), [](std::uint8_t byte) {
    return (byte < 0x20 && byte != '\t') || byte == 0x7F;
  });
  return static_cast<std::size_t>(at - line.begin());
}

std::string excerpt(ByteView text) {
  constexpr std::size_t shown = 24;
  std::string out = "\"";
  out += text_of(text.first(std::min(text.size(), shown)));
  out += text.size() > shown ? "...\"" : "\"";
  return out;
}

} // namespace cardseal::image
