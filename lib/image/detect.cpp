#include "image/detect.h"

#include <algorithm>

#include "image/hex_digits.h"
#include "image/record_text.h"

namespace cardseal::image {
namespace {

constexpr std::array<std::uint8_t, 4> elf_magic{0x7F, 'E', 'L', 'F'}; // gABI, chapter 4

// Length, offset and type of Intel HEX; count, address and checksum of the shortest S-record.
constexpr std::size_t digits_looked_at = 8;

bool all_digits(ByteView text) {
  return text.size() >= digits_looked_at &&
         std::all_of(text.begin(), text.begin() + digits_looked_at, is_hex_digit);
}

std::optional<Format> record_at(ByteView text) {
  if (text[0] == ':' && all_digits(text.subspan(1))) {
    return Format::intel_hex;
  }
  if (text.size() > 2 && text[0] == 'S' && text[1] >= '0' && text[1] <= '9' &&
      all_digits(text.subspan(2))) {
    return Format::s_record;
  }
  return std::nullopt;
}

bool is_text(std::uint8_t byte) {
  return byte >= 0x20 || byte == '\t' || is_line_end(byte);
}

} // namespace

std::optional<Format> find_format(std::string_view word) {
  const auto* const found = std::find(format_words.begin(), format_words.end(), word);
  if (found == format_words.end()) {
    return std::nullopt;
  }
  return static_cast<Format>(found - format_words.begin());
}

std::optional<Format> detect(ByteView start) {
  start = start.first(std::min(start.size(), detect_bytes));
  if (start.size() >= elf_magic.size() && equal(start.first(elf_magic.size()), elf_magic)) {
    return Format::elf;
  }
  bool line_start = true; // nothing but spaces or a byte order mark since the last line end
  for (std::size_t index = 0; index < start.size() && is_text(start[index]); ++index) {
    const std::uint8_t byte = start[index];
    if (const auto found = line_start ? record_at(start.subspan(index)) : std::nullopt; found) {
      return found;
    }
    const bool mark = index < 3 && byte >= 0x80;
    line_start = is_line_end(byte) || (line_start && (is_space(byte) || mark));
  }
  return std::nullopt;
}

} // namespace cardseal::image
