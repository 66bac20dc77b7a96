#include "board.h"

#include <algorithm>

#include "image/image_builder.h"
#include "image/intel_hex.h"

namespace cardseal::station_sim {

void Board::write(std::uint64_t address, ByteView bytes) {
  for (const std::uint8_t byte : bytes) {
    if (device_ == nullptr || device_->region_at(address) != nullptr) {
      memory_[address] = byte;
    }
    ++address;
  }
}

std::uint8_t Board::at(std::uint64_t address) const {
  const auto found = memory_.find(address);
  const profile::Region* region = device_ == nullptr ? nullptr : device_->region_at(address);
  return found != memory_.end() ? found->second
         : region != nullptr    ? region->erased_byte(address)
                                : std::uint8_t{0xFF};
}

void Board::spoil(std::uint64_t address) {
  const std::uint8_t bad = at(address) ^ 1;
  write(address, ByteView(&bad, 1));
}

void Board::read(std::uint64_t address, ByteSpan out) const {
  for (std::uint8_t& byte : out) {
    byte = at(address++);
  }
}

bool Board::holds(std::uint64_t address, ByteView bytes) const {
  for (const std::uint8_t byte : bytes) {
    const bool there =
        device_ == nullptr ? memory_.count(address) != 0 : device_->region_at(address) != nullptr;
    if (!there || at(address) != byte) {
      return false;
    }
    ++address;
  }
  return true;
}

Try<io::Bytes> Board::as_hex() const {
  image::ImageBuilder builder;
  const std::uint16_t file = builder.add_file("board");
  if (device_ == nullptr) {
    for (const auto& [address, byte] : memory_) {
      builder.add(address, ByteView(&byte, 1), file, 0);
    }
  } else {
    for (const profile::Region& region : device_->regions) {
      const auto first = memory_.lower_bound(region.address);
      const bool used = first != memory_.end() && first->first < region.end();
      for (std::uint64_t address = region.address; used && address < region.end(); ++address) {
        const std::uint8_t byte = at(address);
        builder.add(address, ByteView(&byte, 1), file, 0);
      }
    }
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
