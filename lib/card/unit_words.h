// A unit's serial as text, for sheets and lists.
#pragma once

#include <string>

#include "diag/error.h"
#include "format/manifest.h"

namespace cardseal::card {

// `manifest.scheme` is present; an error when the ordinal is past the scheme's capacity.
Try<std::string> unit_words(const format::Manifest& manifest, std::uint64_t ordinal);

} // namespace cardseal::card
