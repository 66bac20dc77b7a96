#include "base/bytes.h"

#include <cstring>

namespace cardseal {

bool equal(ByteView a, ByteView b) {
  return a.size() == b.size() && (a.empty() || std::memcmp(a.data(), b.data(), a.size()) == 0);
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
