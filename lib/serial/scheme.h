// Serial scheme as its author writes it, in `<serial>` of release.xml, taken into the form in which
// it is sealed (format/serial_scheme.h): how a unit's ordinal becomes a number, the number a text,
// and both bytes in the unit's memory.
//
// Everything here is checked for itself: no number outgrows its width or its bytes, every check
// covers only what its rule knows, every placement is as long as what it holds, and none overlaps
// another. Whether a region holds a placement is checked with the device profile.
#pragma once

#include <string>
#include <vector>

#include "diag/error.h"
#include "format/serial_scheme.h"
#include "unit/unit.h"
#include "xml/element.h"

namespace cardseal::serial {

struct Placement : format::Placement {
  Place place;

  std::uint64_t end() const { return std::uint64_t{address} + length; } // at most 2^32
};

struct TakenPrefix { // what serial texts of others begin with
  std::string text;  // 1 to 16 of printable ASCII
  std::string by;    // whose: another class, factory or product; 1 to 40 bytes
  Place place;
};

struct Scheme {
  format::Scheme numbers;
  format::Maybe<format::Alphabet> alphabet;
  format::Maybe<format::SerialCrc> crc;
  format::List<format::ExcludedRange, 8> excluded;
  format::List<format::Part, 8> parts; // 1 to 8, exactly one of them a number
  std::vector<Placement> placements;   // 1 to 8, in the order of the file
  std::vector<TakenPrefix> taken;      // at most 8; not sealed
  std::uint64_t last = 0;              // number of the last ordinal
  Place place;

  std::uint32_t text_length() const; // characters, the same for every unit, at most 64
  unit::Serials serials() const { return {numbers, alphabet, crc, excluded.view(), parts.view()}; }
};

// From the element `<serial>`; what is wrong goes to the element's reader, and the scheme is of use
// only when that has no errors.
Scheme read_scheme(const xml::Element& element);

} // namespace cardseal::serial
