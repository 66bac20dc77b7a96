// One unit's serial: ordinal -> number -> text -> bytes in memory, and back. Registers, run logs
// and stations count ordinals only; what a unit carries is always derived here, from the scheme,
// parts and placements of a signed manifest.
//
//   number = first + step * ordinal, ordinals 0 to capacity - 1
//   text   = the parts in order: a literal as it stands, the number in `width` decimal digits
//   bytes  = of a placement: the text (ascii), or the number in `length` bytes (binary)
//
// Refusals: 391 when an ordinal lies past the scheme or its number does not fit its digits or
// bytes; 371 when scheme, parts and placement do not fit each other; 106 when a text or bytes are
// no unit of this scheme.
#pragma once

#include "base/outcome.h"
#include "format/manifest.h"

namespace cardseal::unit {

inline constexpr std::size_t max_text = 128; // characters
using UnitText = format::Text<max_text>;     // printable ASCII: what displays and logs show

struct UnitBytes { // what one placement holds
  std::array<std::uint8_t, 64> bytes{};
  std::uint8_t size = 0;
  constexpr ByteView view() const { return {bytes.data(), size}; }
};

struct Serials { // a view into a manifest
  const format::Scheme& scheme;
  std::span<const format::Part> parts;
};

// The manifest must have a scheme.
inline Serials serials_of(const format::Manifest& manifest) {
  return {manifest.scheme.value, manifest.parts.view()};
}

Outcome number_of(const format::Scheme& scheme, std::uint64_t ordinal, std::uint64_t& number);
Outcome text_of(const Serials& serials, std::uint64_t ordinal, UnitText& text);
Outcome bytes_of(const Serials& serials, const format::Placement& placement, std::uint64_t ordinal,
                 UnitBytes& bytes);

// Strict: exactly what the three above make, and nothing else, is taken back.
Outcome ordinal_of_number(const format::Scheme& scheme, std::uint64_t number,
                          std::uint64_t& ordinal);
Outcome ordinal_of_text(const Serials& serials, std::string_view text, std::uint64_t& ordinal);
Outcome ordinal_of_bytes(const Serials& serials, const format::Placement& placement, ByteView bytes,
                         std::uint64_t& ordinal);

} // namespace cardseal::unit
