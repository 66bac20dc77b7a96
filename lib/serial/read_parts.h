// The elements of `<serial>` before its places. Inside this module.
#pragma once

#include "serial/scheme.h"

namespace cardseal::serial {

void read_excluded(const xml::Element& element, Scheme& scheme);
void read_taken(const xml::Element& element, Scheme& scheme);
void read_crc(const xml::Element& element, Scheme& scheme); // behind the parts
// One element each is one part, but `<eui>`: its block and its number are two.
void read_part(const xml::Element& element, Scheme& scheme);

} // namespace cardseal::serial
