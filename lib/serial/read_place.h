// The element `<place>`. Inside this module.
#pragma once

#include "serial/scheme.h"

namespace cardseal::serial {

// `count`: the parts that there are.
Placement read_place(const xml::Element& element, std::size_t count);
// The length is what the encoding and its additions make of the scheme's parts or numbers.
void check_length(const xml::Element& element, const Scheme& scheme, const Placement& placement);

} // namespace cardseal::serial
