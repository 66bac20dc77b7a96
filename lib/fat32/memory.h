// A card in memory that keeps only what was written; what was not reads as one chosen byte, so that
// a sector which should have been written and was not is seen. For tests and previews.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "fat32/sectors.h"

namespace cardseal::fat32 {

class MemoryCard final : public SectorSource, public SectorSink {
public:
  MemoryCard(std::uint32_t sector_count, std::uint8_t untouched);

  std::uint32_t sector_count() const override { return sector_count_; }
  std::string name() const override { return "memory"; }
  Try<void> read(std::uint32_t lba, ByteSpan out) override;
  Try<void> begin(std::uint32_t sector_count) override; // refuses more than there are
  Try<void> write(std::uint32_t lba, ByteView sectors) override;
  Try<void> zero(std::uint32_t lba, std::uint32_t count) override;

private:
  using Piece = std::vector<std::uint8_t>;
  Piece& piece(std::uint32_t number);

  std::uint32_t sector_count_;
  std::uint8_t untouched_;
  std::map<std::uint32_t, Piece> pieces_; // by number; an empty piece is all zeros
};

} // namespace cardseal::fat32
