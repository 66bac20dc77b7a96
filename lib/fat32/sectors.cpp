#include "fat32/sectors.h"

#include <algorithm>
#include <limits>

#include "format/fat32_layout.h"

namespace cardseal::fat32 {
namespace {

constexpr std::uint64_t offset_of(std::uint32_t lba) {
  return static_cast<std::uint64_t>(lba) * format::fat::sector_bytes;
}

} // namespace

std::uint32_t FileSource::sector_count() const {
  const std::uint64_t sectors = file_.size() / format::fat::sector_bytes;
  return static_cast<std::uint32_t>(
      std::min<std::uint64_t>(sectors, std::numeric_limits<std::uint32_t>::max()));
}

Try<void> FileSource::read(std::uint32_t lba, ByteSpan out) {
  return file_.read_at(offset_of(lba), out);
}

Try<void> NewFileSink::begin(std::uint32_t sector_count) {
  return file_.resize(offset_of(sector_count));
}

Try<void> NewFileSink::write(std::uint32_t lba, ByteView sectors) {
  return file_.write_at(offset_of(lba), sectors);
}

Try<void> NewFileSink::zero(std::uint32_t, std::uint32_t) {
  return {};
}

} // namespace cardseal::fat32
