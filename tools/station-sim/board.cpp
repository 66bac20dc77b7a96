#include "board.h"

#include <algorithm>

#include "image/image_builder.h"
#include "image/intel_hex.h"

namespace cardseal::station_sim {

void Board::write(std::uint64_t address, ByteView bytes) {
  for (const std::uint8_t byte : bytes) {
    memory_[address++] = byte;
  }
}

bool Board::holds(std::uint64_t address, ByteView bytes) const {
  auto at = memory_.find(address);
  for (const std::uint8_t byte : bytes) {
    if (at == memory_.end() || at->first != address || at->second != byte) {
      return false;
    }
    ++address;
    ++at;
  }
  return true;
}

Try<io::Bytes> Board::as_hex() const {
  image::ImageBuilder builder;
  const std::uint16_t file = builder.add_file("board");
  for (const auto& [address, byte] : memory_) {
    builder.add(address, ByteView(&byte, 1), file, 0);
  }
  image::Notes notes;
  auto image = builder.finish(notes);
  if (!image) {
    return Unexpected(std::move(image).error());
  }
  return image::write_intel_hex(*image, {16, image::LineEnd::lf, std::nullopt});
}

std::vector<PlacedPiece> placed(const format::Manifest& manifest, std::uint64_t offset,
                                ByteView block) {
  std::vector<PlacedPiece> pieces;
  std::uint64_t start = 0; // of the segment, within the image's bytes
  for (const auto& segment : manifest.segments.view()) {
    const std::uint64_t end = start + segment.length;
    if (offset < end && offset + block.size() > start) {
      const std::uint64_t from = std::max(offset, start);
      const std::uint64_t to = std::min<std::uint64_t>(offset + block.size(), end);
      pieces.push_back({segment.address + (from - start), block.subspan(from - offset, to - from)});
    }
    start = end;
  }
  return pieces;
}

} // namespace cardseal::station_sim
