#include "base/bytes.h"

namespace cardseal {

bool equal(ByteView a, ByteView b) {
  if (a.size() != b.size()) {
    return false;
  }
  for (std::size_t i = 0; i < a.size(); ++i) {
    if (a[i] != b[i]) {
      return false;
    }
  }
  return true;
}

void copy(ByteSpan to, ByteView from) {
  for (std::size_t i = 0; i < from.size() && i < to.size(); ++i) {
    to[i] = from[i];
  }
}

void fill(ByteSpan to, std::uint8_t value) {
  for (std::uint8_t& byte : to) {
    byte = value;
  }
}

} // namespace cardseal
