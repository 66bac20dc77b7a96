// The bytes of an authored XML file, judged before any library sees them. What passes is a subset
// of XML 1.0 (W3C, fifth edition) in which every reader sees the same thing:
//   UTF-8 without controls but tab and line ends, and without characters that hide or reorder text;
//   an optional declaration, one root, elements, attributes, comments, white space; nothing else.
// So there is no DOCTYPE, processing instruction, CDATA section or text content: values stand in
// attributes, on one line, with the five predefined references or references to plain characters.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "diag/error.h"

namespace cardseal::xml {

inline constexpr std::size_t max_file_bytes = std::size_t{1024} * 1024;
inline constexpr std::size_t max_depth = 16; // the root is depth 1

// `text` without byte order mark. The first departure, with file, line, column.
Try<void> scan(std::string_view text, const std::string& file);

} // namespace cardseal::xml
