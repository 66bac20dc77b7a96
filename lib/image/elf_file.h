// The headers of an ELF file, checked, in plain structs. The only user of libelf.
// Source: System V Application Binary Interface (gABI), chapters 4 and 5.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/bytes.h"
#include "diag/error.h"

namespace cardseal::image {

// Bytes of the file, all of them there.
struct FileRange {
  std::uint64_t offset = 0;
  std::uint64_t length = 0;
  std::uint64_t end() const { return offset + length; }
  bool holds(const FileRange& other) const {
    return other.offset >= offset && other.end() <= end();
  }
};

// A load segment (PT_LOAD) with bytes in the file.
struct ElfSegment {
  FileRange file;
  std::uint64_t virtual_address = 0;  // as in the file, in its address units
  std::uint64_t physical_address = 0; // the same
};

// A section that is allocated and has bytes in the file.
struct ElfSection {
  std::string name; // from outside: escape it
  FileRange file;
  std::uint64_t address = 0; // as in the file, in its address units
};

struct ElfFile {
  bool wide = false; // ELF64
  std::uint64_t entry = 0;
  bool any_program_header = false;
  bool any_section_header = false;
  bool any_physical_address = false; // any program header has one that is not 0
  std::uint64_t memory_segments = 0; // load segments with memory, also those without bytes here
  std::vector<FileRange> headers;    // ELF header and both tables
  std::vector<ElfSegment> segments;
  std::vector<ElfSection> sections;
};

// A build has a few of each; above this, looking through them would take long.
inline constexpr std::uint64_t most_program_headers = 4096;
inline constexpr std::uint64_t most_section_headers = 65536;

// Errors (bad_data): "elf-header", "elf-type" (no linked program), "elf-table", "elf-too-many",
// "elf-truncated", "elf-segment" (more bytes in the file than in memory).
Try<ElfFile> read_elf_file(ByteView bytes, const std::string& file);

} // namespace cardseal::image
