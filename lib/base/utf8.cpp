#include "base/utf8.h"

#include "base/bytes.h"

namespace cardseal {
namespace {

struct Range {
  char32_t first;
  char32_t last;
};

// Unicode 15 code points of general category Cc, Cf, Zl, Zp that change how a line is read, the
// variation selectors, fillers that show nothing, and tags.
constexpr Range harmful[] = {
    {0x0000, 0x001F},    {0x007F, 0x009F}, {0x00AD, 0x00AD}, {0x034F, 0x034F},   {0x061C, 0x061C},
    {0x115F, 0x1160},    {0x17B4, 0x17B5}, {0x180B, 0x180F}, {0x200B, 0x200F},   {0x2028, 0x202E},
    {0x2060, 0x206F},    {0x3164, 0x3164}, {0xFE00, 0xFE0F}, {0xFEFF, 0xFEFF},   {0xFFA0, 0xFFA0},
    {0xFFF0, 0xFFFB},    {0xE000, 0xF8FF}, {0xFDD0, 0xFDEF}, {0x1D173, 0x1D17A}, {0xE0000, 0xE0FFF},
    {0xF0000, 0x10FFFF},
};

bool is_tail(char c) {
  return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U;
}

} // namespace

Utf8Char next_utf8(std::string_view text) {
  if (text.empty()) {
    return {};
  }
  const auto lead = static_cast<unsigned char>(text[0]);
  if (lead < 0x80U) {
    return {lead, 1};
  }
  const std::size_t length = lead >= 0xF0U ? 4 : lead >= 0xE0U ? 3 : 2;
  if (lead < 0xC2U || lead > 0xF4U || text.size() < length) {
    return {};
  }
  char32_t code = lead & (0xFFU >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if (!is_tail(text[i])) {
      return {};
    }
    code = (code << 6U) | (static_cast<unsigned char>(text[i]) & 0x3FU);
  }
  constexpr char32_t shortest[] = {0, 0, 0x80, 0x800, 0x10000};
  const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
  if (code < shortest[length] || code > 0x10FFFF || surrogate) {
    return {};
  }
  return {code, length};
}

bool is_utf8(std::string_view text) {
  while (!text.empty()) {
    const Utf8Char next = next_utf8(text);
    if (next.length == 0) {
      return false;
    }
    text.remove_prefix(next.length);
  }
  return true;
}

bool is_harmless(char32_t code) {
  if (code >= ' ' && code <= '~') {
    return true; // nearly all there is
  }
  if ((code & 0xFFFEU) == 0xFFFEU) {
    return false; // U+nFFFE and U+nFFFF are no characters
  }
  for (const Range& range : harmful) {
    if (code >= range.first && code <= range.last) {
      return false;
    }
  }
  return true;
}

} // namespace cardseal
