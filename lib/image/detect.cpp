#include "image/detect.h"

#include <algorithm>

#include "image/hex_digits.h"

namespace cardseal::image {
namespace {

constexpr std::size_t digits_looked_at = 8; // length, offset and type

bool begins_like_record(ByteView text) {
  return text.size() > digits_looked_at && text[0] == ':' &&
         std::all_of(text.begin() + 1, text.begin() + 1 + digits_looked_at, is_hex_digit);
}

bool is_text(std::uint8_t byte) {
  return byte >= 0x20 || byte == '\n' || byte == '\r' || byte == '\t';
}

} // namespace

std::string_view word_of(Format format) {
  return format == Format::raw ? "raw" : "intel-hex";
}

std::optional<Format> find_format(std::string_view word) {
  for (const Format format : {Format::intel_hex, Format::raw}) {
    if (word == word_of(format)) {
      return format;
    }
  }
  return std::nullopt;
}

std::optional<Format> detect(ByteView start) {
  start = start.first(std::min(start.size(), detect_bytes));
  bool line_start = true; // nothing but spaces or a byte order mark since the last line end
  for (std::size_t index = 0; index < start.size() && is_text(start[index]); ++index) {
    const std::uint8_t byte = start[index];
    if (line_start && begins_like_record(start.subspan(index))) {
      return Format::intel_hex;
    }
    const bool mark = index < 3 && byte >= 0x80;
    line_start =
        byte == '\n' || byte == '\r' || (line_start && (byte == ' ' || byte == '\t' || mark));
  }
  return std::nullopt;
}

} // namespace cardseal::image
