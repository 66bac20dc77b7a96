// What lines of a record file may have around and between records, the same in every such format.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

#include "base/bytes.h"

namespace cardseal::image {

// A record takes at most 521 characters; comments and text lines may be longer.
inline constexpr std::size_t longest_line = 4096;
inline constexpr std::uint8_t substitute = 0x1A; // CP/M's end of file, still added by some editors
inline constexpr const char* get_again = "get the file again from whoever built it";

constexpr bool is_line_end(std::uint8_t byte) {
  return byte == '\n' || byte == '\r';
}

constexpr bool is_space(std::uint8_t byte) {
  return byte == ' ' || byte == '\t';
}

// Starts with ';', '#' or "//".
bool is_comment(ByteView text);

// A line without a byte order mark (first line only) and without spaces and tabs around it.
struct Trimmed {
  ByteView text;
  std::uint32_t column = 1; // of its first byte in the line
  bool mark = false;        // there was a byte order mark
  bool spaces = false;      // there were spaces or tabs
};
Trimmed trim(ByteView line, bool first_line);

// The index of the first byte that is no text (a control other than a tab), or the size.
std::size_t text_end(ByteView line);

// "\"S1130000...\"": the start of a line, to quote in a message.
std::string excerpt(ByteView text);

} // namespace cardseal::image
