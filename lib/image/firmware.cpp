#include "image/firmware.h"

namespace cardseal::image {

std::string_view word_of(StartKind kind) {
  switch (kind) {
  case StartKind::segmented:
    return "segmented";
  case StartKind::linear:
    return "linear";
  case StartKind::end_record:
    return "end-record";
  }
  return "linear";
}

std::string_view word_of(ElfMode mode) {
  return mode == ElfMode::sections ? "sections" : "segments";
}

} // namespace cardseal::image
