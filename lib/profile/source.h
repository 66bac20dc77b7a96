// Where a group of values comes from: a data sheet, a header, a drawing. Every group names one.
#pragma once

#include <string>

#include "xml/element.h"

namespace cardseal::profile {

struct Source {
  std::string text;         // 1 to 120 bytes
  bool from_memory = false; // `text` starts with the word from-memory: nobody has looked it up yet
  bool to_fill_in = false;  // `text` starts with the word to-fill-in: still the template's example
  Place place;              // of the attribute
};

Source read_source(const xml::Element& element); // its attribute `source`

} // namespace cardseal::profile
