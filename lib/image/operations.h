// New images from old ones. Every byte keeps the file and line that it came from.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "diag/error.h"
#include "image/notes.h"
#include "image/sparse_image.h"

namespace cardseal::image {

// All bytes of all images. One address with two values is an error "image-conflict"; bytes that two
// images share are noted (`same-bytes`). The result does not depend on the images' order.
Try<SparseImage> merge(const std::vector<const SparseImage*>& images, Notes& notes);

// Only the bytes inside `range`.
SparseImage crop(const SparseImage& image, const Segment& range);
// Only the bytes inside one of `ranges`, which may overlap.
SparseImage crop(const SparseImage& image, const std::vector<Segment>& ranges);

// Every byte `offset` higher, or lower when it is negative. Error (refused): "image-move" when that
// passes either end of the addresses.
Try<SparseImage> move(const SparseImage& image, std::int64_t offset);

inline constexpr std::uint64_t longest_fill = std::uint64_t{1} << 30; // bytes; 1 GiB

// Writes `value` to every absent address of `range`; bytes already there stay. The origin of what
// it writes is the name "fill", without a line. Error (refused): "image-range".
Try<SparseImage> fill(const SparseImage& image, const Segment& range, std::uint8_t value);

// Completes every unit that holds a byte: a unit is `unit` bytes at a multiple of `unit`. Absent
// bytes in it get `value`; their origin is the name "align". Errors (refused): "image-range" when
// the last unit passes the last address or more than `longest_fill` bytes would be written; usage
// "align-unit" for 0.
Try<SparseImage> align(const SparseImage& image, std::uint64_t unit, std::uint8_t value);

struct NamedRange {
  std::string name;
  Segment range;
};

struct Split {
  std::vector<SparseImage> parts; // one for each region, in the order asked for; may be empty
  SparseImage leftover;           // what is in no region
};

// Error (usage): "regions-overlap" names both.
Try<Split> split(const SparseImage& image, const std::vector<NamedRange>& regions);

} // namespace cardseal::image
