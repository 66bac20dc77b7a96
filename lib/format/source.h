// Bytes that are read on demand: a package in memory, in a file, or on a card.
#pragma once

#include "base/bytes.h"
#include "base/outcome.h"

namespace cardseal::format {

struct Source {
  void* context = nullptr;
  // Fills all of `out` from `offset`; offset + out.size() <= size. May give other bytes the next
  // time: whatever matters is hashed from the buffer it is used from.
  Outcome (*read)(void* context, std::uint32_t offset, ByteSpan out) = nullptr;
  std::uint32_t size = 0;
};

} // namespace cardseal::format
