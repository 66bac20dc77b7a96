// Which format a firmware file has, by its content and never by its name.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "base/bytes.h"

namespace cardseal::image {

enum class Format : std::uint8_t { intel_hex, raw };

std::string_view word_of(Format format);                  // "intel-hex", "raw"
std::optional<Format> find_format(std::string_view word); // none for any other word

inline constexpr std::size_t detect_bytes = 4096; // how much of the file's start decides

// Intel HEX when a line begins like a record and nothing but text stands before it. Nothing looks
// like raw binary: that has to be stated.
std::optional<Format> detect(ByteView start);

} // namespace cardseal::image
