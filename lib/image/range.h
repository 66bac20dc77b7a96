// Walks a range of an image, absent addresses included.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>

#include "diag/error.h"
#include "image/sparse_image.h"

namespace cardseal::image {

// From the first byte to the last; nothing for an empty image.
std::optional<Segment> extent(const SparseImage& image);

// The first addresses in `range` that the image does not hold.
std::optional<Segment> first_gap(const SparseImage& image, const Segment& range);

// The range asked for, or the image's extent. Errors (refused): "image-empty" when there is none,
// "image-gap" when addresses are absent and no fill value is given, "image-range" when it is longer
// than `longest` or passes the last address.
Try<Segment> range_to_walk(const SparseImage& image, const std::optional<Segment>& wanted,
                           const std::optional<std::uint8_t>& fill, std::uint64_t longest);

// Calls take(ByteView) with the bytes of `range` in order, absent ones as `fill`.
template <class Take>
void walk(const SparseImage& image, const Segment& range, std::uint8_t fill, Take take) {
  std::array<std::uint8_t, 4096> filler;
  filler.fill(fill);
  std::uint64_t address = range.address;
  while (address < range.end()) {
    const std::uint64_t left = range.end() - address;
    const ByteView present = image.from(address);
    if (!present.empty()) {
      const std::uint64_t length = std::min<std::uint64_t>(present.size(), left);
      take(present.first(length));
      address += length;
      continue;
    }
    const std::uint64_t absent = first_gap(image, {address, left})->length;
    for (std::uint64_t done = 0; done < absent;) {
      const std::uint64_t length = std::min<std::uint64_t>(filler.size(), absent - done);
      take(ByteView(filler).first(length));
      done += length;
    }
    address += absent;
  }
}

} // namespace cardseal::image
