#include "base/bytes.h"

#include <cstring>

namespace cardseal {

bool equal(ByteView a, ByteView b) {
  return a.size() == b.size() && (a.empty() || std::memcmp(a.data(), b.data(), a.size()) == 0);
}

void copy(ByteSpan to, ByteView from) {
  const std::size_t size = from.size() < to.size() ? from.size() : to.size();
  if (size != 0) { // without an address there may be none
    std::memcpy(to.data(), from.data(), size);
  }
}

void fill(ByteSpan to, std::uint8_t value) {
  if (!to.empty()) {
    std::memset(to.data(), value, to.size());
  }
}

} // namespace cardseal
