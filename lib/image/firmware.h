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
  segmented,  // HEX type 03: code segment in the upper 16 bits, instruction pointer in the lower
  linear,     // an address: HEX type 05, S7, S8 and S9, ELF's entry point
  end_record, // the address field of a HEX end record, 16 bits
};

std::string_view word_of(StartKind kind);

// Where a debugger would begin. Shown, never part of the image. S-record and ELF have to state
// something, and state 0 when there is none: that is no start address here.
struct StartAddress {
  StartKind kind = StartKind::linear;
  std::uint64_t value = 0; // above 32 bits in ELF only
  std::uint32_t line = 0;  // 0 when the file has no lines
  friend bool operator==(const StartAddress&, const StartAddress&) = default;
};

// A line of text that follows the end record; for a person to read.
struct TextLine {
  std::uint32_t line = 0;
  std::string text; // as it stands in the file, without its line end: escape it before showing
};

inline constexpr std::size_t text_lines_kept = 100; // the rest are only counted by their note

// Which parts of an ELF file are the image (image/elf.h).
enum class ElfMode : std::uint8_t {
  sections, // what allocated sections hold, placed by the load segments around them
  segments, // all that the load segments hold, but never the file's own headers
};

std::string_view word_of(ElfMode mode); // "sections", "segments"

struct Firmware {
  SparseImage image;
  Notes notes;
  std::optional<StartAddress> start;
  std::vector<TextLine> text_after_end;
  std::optional<ElfMode> elf_mode; // how an ELF file was read
  std::string header;              // text of an S-record file's first S0, as it stands: escape it
};

} // namespace cardseal::image
