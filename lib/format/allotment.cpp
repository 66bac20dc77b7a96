#include "format/card_texts.h"

namespace cardseal::format {

std::uint64_t ordinal_at(const Allotment& a, std::uint64_t at) {
  for (const OrdinalRange& span : a.spans.view()) {
    const std::uint64_t size = span.last - span.first + 1;
    if (at < size) {
      return span.first + at;
    }
    at -= size;
  }
  return a.first + at; // of new numbers
}

bool place_of(const Allotment& a, std::uint64_t ordinal, std::uint64_t& at) {
  at = 0;
  for (const OrdinalRange& span : a.spans.view()) {
    if (ordinal >= span.first && ordinal <= span.last) {
      at += ordinal - span.first;
      return true;
    }
    at += span.last - span.first + 1;
  }
  at = ordinal - a.first;
  return a.numbers == Numbers::fresh && ordinal >= a.first && at < a.count;
}

} // namespace cardseal::format
