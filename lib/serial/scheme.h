// Serial scheme as its author writes it, in `<serial>` of release.xml: how a unit's ordinal becomes
// a number, the number a text, and both bytes in the unit's memory.
//
//   number of ordinal n = first + step * n, n from 0 to capacity - 1
//   text = the parts in order; the number in decimal, filled with zeros in front
//
// Everything here is checked for itself: no number outgrows its width or its bytes, no placement
// overlaps another. Whether a region holds a placement is checked with the device profile.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "diag/error.h"
#include "xml/element.h"

namespace cardseal::serial {

enum class PartKind : std::uint8_t { literal, number };

struct Part {
  PartKind kind = PartKind::literal;
  std::string text;        // literal: 1 to 16 of printable ASCII without '"' and '\'
  std::uint32_t base = 10; // number: always 10 for now
  std::uint32_t width = 1; // number: digits, 1 to 19
  Place place;
};

enum class Encoding : std::uint8_t { ascii, binary_be, binary_le }; // of the text, of the number

enum class Before : std::uint8_t {
  erased,      // the firmware leaves these bytes out
  placeholder, // the firmware holds bytes there, which the serial replaces
};

struct Placement {
  std::string region;        // id of a region of the device profile, at most 16
  std::uint32_t address = 0; // byte address; address + length is at most 2^32
  std::uint32_t length = 1;  // bytes; what the encoding yields: the text's length, or 1 to 8
  Encoding encoding = Encoding::ascii;
  Before before = Before::erased;
  Place place;
};

struct Scheme {
  std::string id;                    // at most 16
  std::uint64_t first = 0;           // number of ordinal 0
  std::uint64_t step = 1;            // 1 to 999,999
  std::uint64_t capacity = 1;        // units, 1 to 10^12
  std::vector<Part> parts;           // 1 to 8, exactly one of them a number
  std::vector<Placement> placements; // 1 to 8
  Place place;

  std::uint64_t last() const { return first + step * (capacity - 1); } // never overflows
  std::uint32_t text_length() const; // bytes, the same for every unit, at most 64
};

// From the element `<serial>`; what is wrong goes to the element's reader, and the scheme is of use
// only when that has no errors.
Scheme read_scheme(const xml::Element& element);

} // namespace cardseal::serial
