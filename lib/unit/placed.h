// How a placement holds a serial's text or number. Inside this module; every placement here is one
// that format::placement_good accepts.
#pragma once

#include "unit/unit.h"

namespace cardseal::unit {

struct Frame {            // bytes, before a constant follows each
  std::size_t serial = 0; // the text or the number
  std::size_t padded = 0; // with the padding
  std::size_t whole = 0;  // with the CRC
};

Frame frame_of(const format::Placement& placement, const Serials& serials);

// Characters before part `at` (from 0).
std::size_t offset_of(std::span<const format::Part> parts, std::size_t at);
std::string_view piece_of(std::string_view text, std::span<const format::Part> parts,
                          format::PartSpan span);

void encode(const format::Placement& placement, std::string_view text, ByteSpan out);
// Adds to `text`. False when the bytes are no such encoding, or too many.
bool decode(const format::Placement& placement, ByteView bytes, UnitText& text);

// False when the number needs more bytes than `out`.
bool store_number(std::uint64_t number, format::Encoding encoding, ByteSpan out);
std::uint64_t load_number(ByteView bytes, format::Encoding encoding);

// Padding, CRC and constant around the serial that `bytes` starts with.
void complete(const format::Placement& placement, const Serials& serials, const Frame& frame,
              ByteSpan bytes);
// The bytes without the constant; nothing is compared.
void strip(const format::Placement& placement, ByteView bytes, ByteSpan out);

} // namespace cardseal::unit
