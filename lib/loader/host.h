// What a station's firmware hands to the loader: how to read the card, and where the station keeps
// its memory. The loader does no other input or output.
#pragma once

#include "base/bytes.h"

namespace cardseal::loader {

struct SectorReader {
  void* context = nullptr;
  // Fills all of `out`, a multiple of 512 bytes, from sector `lba` on; false when it can't. May
  // give other bytes the next time.
  bool (*read)(void* context, std::uint32_t lba, ByteSpan out) = nullptr;
  std::uint32_t sector_count = 0; // of the whole card; the loader never asks for more
};

// Two slots of format::state::slot_size bytes that outlive power and card. A write may be cut
// anywhere; what `sync` has returned for stays. Each is false when it failed.
struct StateStorage {
  void* context = nullptr;
  bool (*read)(void* context, unsigned slot, std::uint32_t offset, ByteSpan out) = nullptr;
  bool (*write)(void* context, unsigned slot, std::uint32_t offset, ByteView bytes) = nullptr;
  bool (*sync)(void* context) = nullptr;
};

} // namespace cardseal::loader
