#include "image/notes.h"

namespace cardseal::image {

void Notes::add(std::string_view id, std::uint32_t line, std::string detail, std::uint64_t count) {
  for (Note& each : notes_) {
    if (each.id == id) {
      each.count += count;
      return;
    }
  }
  notes_.push_back({id, count, line, std::move(detail)});
}

const Note* Notes::find(std::string_view id) const {
  for (const Note& each : notes_) {
    if (each.id == id) {
      return &each;
    }
  }
  return nullptr;
}

} // namespace cardseal::image
