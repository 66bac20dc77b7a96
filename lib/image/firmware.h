// What every firmware reader returns.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "image/notes.h"
#include "image/sparse_image.h"

namespace cardseal::image {

enum class StartKind : std::uint8_t {
  segmented,  // type 03: code segment in the upper 16 bits, instruction pointer in the lower
  linear,     // type 05: 32 bits
  end_record, // the address field of the end record, 16 bits
};

std::string_view word_of(StartKind kind);

// Where a debugger would begin. Shown, never part of the image.
struct StartAddress {
  StartKind kind = StartKind::linear;
  std::uint32_t value = 0;
  std::uint32_t line = 0;
  friend bool operator==(const StartAddress&, const StartAddress&) = default;
};

// A line of text that follows the end record; for a person to read.
struct TextLine {
  std::uint32_t line = 0;
  std::string text; // as it stands in the file, without its line end: escape it before showing
};

inline constexpr std::size_t text_lines_kept = 100; // the rest are only counted by their note

struct Firmware {
  SparseImage image;
  Notes notes;
  std::optional<StartAddress> start;
  std::vector<TextLine> text_after_end;
};

} // namespace cardseal::image
