// ELF programs as firmware: 32 and 64 bits, both byte orders.
// Source: System V Application Binary Interface (gABI), chapters 4 and 5; how a section's load
// address follows from its segment, and that physical addresses which are all zero don't count, is
// common practice, no source.
//
// The image is what goes into memory that keeps its content: bytes of the file at physical
// addresses. Memory without bytes in the file (.bss) and the file's own headers are never in it,
// even when a segment covers the headers; the latter are when a section lies there. Addresses above
// the memory of a part, as 8-bit toolchains use them for data memory and fuses (0x810000,
// 0x820000), stay what they are.
//
// By sections (ElfMode): zero bytes of a segment that no section holds are padding and left out,
// with a note, as in a HEX file that a converter makes; other such bytes are refused. Without
// program headers, sections lie at their own addresses.
//
// Errors are of kind bad_data: those of image/elf_file.h, image-conflict (image/image_builder.h)
// and
//
//   elf-no-segments   by segments, and there are no program headers
//   elf-unloaded      a section that no load segment holds at its address: readers differ
//   elf-section-twice  by sections, and several load segments hold bytes of one
//   elf-uncovered     bytes other than zero in a segment that no section holds
//   elf-past-end      addresses above the last one
//   elf-too-large     segments share so much of the file that the image outgrows it
//   elf-unit          (usage) an address unit that is not 1 to 8 bytes
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "base/bytes.h"
#include "diag/error.h"
#include "image/firmware.h"

namespace cardseal::image {

struct ElfReadOptions {
  std::optional<ElfMode> mode;    // else by sections; by segments when there are no section headers
  std::uint32_t address_unit = 1; // bytes at each of the file's addresses; 2 for a part of 16 bits
};

// `bytes` start at an address that is a multiple of 8.
Try<Firmware> read_elf(ByteView bytes, std::string file, const ElfReadOptions& options = {});

} // namespace cardseal::image
