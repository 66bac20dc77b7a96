// A simulated board: the memory that a station writes and reads back.
#pragma once

#include <map>
#include <vector>

#include "io/file.h"
#include "loader/station.h"
#include "profile/device.h"

namespace cardseal::station_sim {

class Board {
public:
  // With a device's profile a board has that memory and no other: a byte outside of it is lost, and
  // one that was never written reads as erased. It must outlive the board.
  explicit Board(const profile::Device* device = nullptr) : device_(device) {}
  void erase() { memory_.clear(); }
  void write(std::uint64_t address, ByteView bytes);
  bool holds(std::uint64_t address, ByteView bytes) const;
  void read(std::uint64_t address, ByteSpan out) const;
  void spoil(std::uint64_t address);                   // one bit
  std::size_t bytes() const { return memory_.size(); } // that were written
  friend bool operator==(const Board& one, const Board& other) {
    return one.memory_ == other.memory_;
  }

  // All that was written, as Intel HEX; with a profile whole regions, where anything was.
  Try<io::Bytes> as_hex() const;

private:
  std::uint8_t at(std::uint64_t address) const;

  const profile::Device* device_;
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
