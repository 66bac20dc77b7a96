#include "page/frame.h"

#include "page/words.h"

namespace cardseal::page {

void put_printed_copy(Fields& page, std::string_view kind) {
  page.set("PRINTED_BY", words_of("printed", kind));
  const std::string note = words_of("printed-note", kind);
  if (note != kind) {
    page.add("PRINTED_NOTE").set("WORDS", note);
  }
}

} // namespace cardseal::page
