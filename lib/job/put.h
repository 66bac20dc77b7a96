// Values of authored files into the fields of sealed texts. Inside this module.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "format/line.h"
#include "profile/station.h"

namespace cardseal::job {

// Cut to what the field holds: the readers of authored files allow no more, or a finding says so.
template <class Text>
Text put(std::string_view text) {
  Text out;
  out.set(text.substr(0, out.bytes.size()));
  return out;
}

constexpr format::YesNo yes_no(bool value) {
  return value ? format::YesNo::yes : format::YesNo::no;
}

// Sealed lists name each model once, in rising order.
std::vector<const profile::Station*> by_model(const std::vector<profile::Station>& stations);

// `text` as a sealed text may hold it: '"', '\' and what could mislead become '?', at most `limit`
// bytes, never half a character.
std::string sealable(std::string_view text, std::size_t limit);

} // namespace cardseal::job
