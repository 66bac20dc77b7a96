// An item's text, and an image without its holes; inside `archive` only.
#pragma once

#include "archive/archive.h"

namespace cardseal::archive {

// Lines: "cardseal-archive-item 1", kind, title, time, then one a part: digest, size, "whole" or
// "sparse", name.
std::string spell(const Item& item);
Try<Item> parse(std::string_view text, const io::Path& file);

// Blocks of 4 KiB that are not all zeros, joined where they follow one another: "cardseal-sparse 1"
// LF, the size of the whole as 8 bytes, then (offset, length, bytes) each, numbers 8 bytes with the
// low one first.
Try<io::Bytes> without_holes(const io::ReadFile& file);
Try<void> with_holes(ByteView sparse, io::NewFile& out, const io::Path& file);

} // namespace cardseal::archive
