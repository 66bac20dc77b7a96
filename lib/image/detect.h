// Which format a firmware file has, by its content and never by its name.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "base/bytes.h"

namespace cardseal::image {

enum class Format : std::uint8_t { intel_hex, s_record, elf, raw };
inline constexpr std::array<std::string_view, 4> format_words{"intel-hex", "s-record", "elf",
                                                              "raw"};

constexpr std::string_view word_of(Format format) {
  return format_words[static_cast<std::size_t>(format)];
}
std::optional<Format> find_format(std::string_view word); // none for any other word

inline constexpr std::size_t detect_bytes = 4096; // how much of the file's start decides

// ELF by its first four bytes. Intel HEX or S-record when a line begins like one of their records
// and nothing but text stands before it. Nothing looks like raw binary: that has to be stated.
std::optional<Format> detect(ByteView start);

} // namespace cardseal::image
