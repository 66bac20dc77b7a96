// A unit's serial as text, for sheets and lists.
#pragma once

#include <string>

#include "diag/error.h"
#include "format/card_texts.h"

namespace cardseal::card {

// `manifest.scheme` is present; an error when the ordinal is past the scheme's capacity, or
// when the text has a date code or class and no allotment states them.
Try<std::string> unit_words(const format::Manifest& manifest, std::uint64_t ordinal,
                            const format::Allotment* allotment = nullptr);

} // namespace cardseal::card
