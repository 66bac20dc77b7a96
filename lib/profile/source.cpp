#include "profile/source.h"

namespace cardseal::profile {

Source read_source(const xml::Element& element) {
  Source source;
  source.text = element.text("source", 1, 120);
  source.from_memory = source.text.starts_with("from-memory");
  source.to_fill_in = source.text.starts_with("to-fill-in");
  source.place = element.place_of("source");
  return source;
}

} // namespace cardseal::profile
