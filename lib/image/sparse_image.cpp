#include "image/sparse_image.h"

#include <algorithm>

namespace cardseal::image {
namespace {

// The last range that starts at or below `address`, if it holds it.
template <class Range>
const Range* find(std::span<const Range> ranges, std::uint64_t address) {
  auto above = std::upper_bound(
      ranges.begin(), ranges.end(), address,
      [](std::uint64_t value, const Range& range) { return value < range.address; });
  if (above == ranges.begin() || address >= std::prev(above)->end()) {
    return nullptr;
  }
  return &*std::prev(above);
}

} // namespace

std::uint32_t Piece::line_of(std::uint64_t at) const {
  const std::uint64_t lines =
      bytes_per_line == 0 ? 0 : (into_line + (at - address)) / bytes_per_line;
  return line + static_cast<std::uint32_t>(lines);
}

const Piece* find_piece(std::span<const Piece> pieces, std::uint64_t address) {
  return find(pieces, address);
}

ByteView SparseImage::from(std::uint64_t address) const {
  const Segment* segment = find(std::span<const Segment>(segments_), address);
  if (segment == nullptr) {
    return {};
  }
  const std::uint64_t into = address - segment->address;
  const auto index = static_cast<std::size_t>(segment - segments_.data());
  return image_bytes().subspan(offsets_[index] + into, segment->length - into);
}

std::optional<std::uint8_t> SparseImage::at(std::uint64_t address) const {
  const ByteView bytes = from(address);
  return bytes.empty() ? std::nullopt : std::optional<std::uint8_t>(bytes[0]);
}

const Piece* SparseImage::piece_at(std::uint64_t address) const {
  return find_piece(pieces(), address);
}

std::optional<Origin> SparseImage::origin(std::uint64_t address) const {
  const Piece* piece = piece_at(address);
  if (piece == nullptr) {
    return std::nullopt;
  }
  return Origin{files_[piece->file], piece->line_of(address)};
}

crypto::Digest SparseImage::digest() const {
  crypto::Sha256 running;
  for (std::size_t index = 0; index < segments_.size(); ++index) {
    std::uint8_t head[16];
    store_be64(head, segments_[index].address);
    store_be64(head + 8, segments_[index].length);
    running.update(head);
    running.update(image_bytes().subspan(offsets_[index], segments_[index].length));
  }
  return running.finish();
}

} // namespace cardseal::image
