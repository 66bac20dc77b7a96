#include "card/unit_words.h"

#include <fmt/format.h>

#include "unit/unit.h"

namespace cardseal::card {

Try<std::string> unit_words(const format::Manifest& manifest, std::uint64_t ordinal,
                            const format::Allotment* allotment) {
  unit::UnitText text;
  const Outcome outcome = unit::text_of(unit::serials_of(manifest, allotment), ordinal, text);
  if (!outcome.ok()) {
    Error error = error_from(outcome, "");
    error.found = fmt::format("ordinal {}", ordinal);
    error.expected = fmt::format("0 to {}", manifest.scheme.value.capacity - 1);
    return Unexpected(std::move(error));
  }
  return std::string(text.view());
}

} // namespace cardseal::card
