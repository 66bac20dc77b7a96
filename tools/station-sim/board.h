// A simulated board: the memory that a station writes and reads back.
#pragma once

#include <map>
#include <vector>

#include "io/file.h"
#include "loader/station.h"

namespace cardseal::station_sim {

class Board {
public:
  void erase() { memory_.clear(); }
  void write(std::uint64_t address, ByteView bytes);
  bool holds(std::uint64_t address, ByteView bytes) const;
  void spoil(std::uint64_t address) { memory_[address] ^= 1; } // one bit

  // All that was written, as Intel HEX.
  Try<io::Bytes> as_hex() const;

private:
  std::map<std::uint64_t, std::uint8_t> memory_; // what is absent is erased
};

// The pieces of a block of the image, whose bytes run across segments, with their addresses.
struct PlacedPiece {
  std::uint64_t address = 0;
  ByteView bytes;
};
std::vector<PlacedPiece> placed(const format::Manifest& manifest, std::uint64_t offset,
                                ByteView block);

} // namespace cardseal::station_sim
