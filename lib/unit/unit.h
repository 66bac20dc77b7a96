// One unit's serial: ordinal -> number -> text -> bytes in memory, and back. Registers, run logs
// and stations count ordinals only; what a unit carries is always derived here, from the scheme,
// alphabet, excluded numbers, parts and placements of a signed manifest, and from the date code and
// class of a signed allotment.
//
//   number = first + step * n, where n counts ordinals and the excluded numbers before
//   text   = the parts in order: a literal, the number in the alphabet's digits, the allotment's
//            date code, the character of its class, check characters over the parts before
//   bytes  = of a placement: some parts' text in an encoding and padding behind, or the number in
//            binary; then a CRC over these; then every byte followed by the constant, if there is
//            one
//
// Refusals: 391 when an ordinal lies past the scheme or its number does not fit its digits or
// bytes; 371 when scheme, parts and placement do not fit each other; 397 and 393 when the text
// needs a date code or a class and the allotment has no fitting one, or is not given; 106 when a
// text or bytes are no unit of this scheme.
#pragma once

#include "base/outcome.h"
#include "format/card_texts.h"

namespace cardseal::unit {

inline constexpr std::size_t max_text = 128; // characters
using UnitText = format::Text<max_text>;     // printable ASCII: what displays and logs show

struct UnitBytes { // what one placement holds
  std::array<std::uint8_t, 128> bytes{};
  std::uint8_t size = 0;
  constexpr ByteView view() const { return {bytes.data(), size}; }
};

struct Serials { // a view into a manifest and an allotment
  const format::Scheme& scheme;
  const format::Maybe<format::Alphabet>& alphabet;
  const format::Maybe<format::SerialCrc>& crc;
  std::span<const format::ExcludedRange> excluded;
  std::span<const format::Part> parts;
  const format::Allotment* allotment = nullptr; // null: date code and class are not known
};

// The manifest must have a scheme.
inline Serials serials_of(const format::Manifest& m, const format::Allotment* allotment = nullptr) {
  return {m.scheme.value, m.alphabet, m.serial_crc, m.excluded.view(), m.parts.view(), allotment};
}

Outcome number_of(const Serials& serials, std::uint64_t ordinal, std::uint64_t& number);
Outcome text_of(const Serials& serials, std::uint64_t ordinal, UnitText& text);
Outcome bytes_of(const Serials& serials, const format::Placement& placement, std::uint64_t ordinal,
                 UnitBytes& bytes);

// Strict: exactly what the three above make, and nothing else, is taken back. Without an allotment
// a text's date code and class are taken from the text itself.
Outcome ordinal_of_number(const Serials& serials, std::uint64_t number, std::uint64_t& ordinal);
Outcome ordinal_of_text(const Serials& serials, std::string_view text, std::uint64_t& ordinal);
// 106 too when the placement does not hold the number.
Outcome ordinal_of_bytes(const Serials& serials, const format::Placement& placement, ByteView bytes,
                         std::uint64_t& ordinal);

} // namespace cardseal::unit
