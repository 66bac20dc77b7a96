// What a file is, by its content.
#pragma once

#include "common.h"

namespace cardseal::tool {

enum class FileKind : std::uint8_t { root, trust, withdrawal, statement, package, card };

// `statement`: what quality signed about a lot. A package starts with its tar header of `manifest`,
// a text with its first line, a card with a sector that ends in 55 AA.
Try<FileKind> kind_of(const std::string& file);

} // namespace cardseal::tool
