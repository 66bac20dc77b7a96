// New images from old ones. Every byte keeps the file and line that it came from.
#pragma once

#include <cstdint>
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

inline constexpr std::uint64_t longest_fill = std::uint64_t{1} << 30; // bytes; 1 GiB

// Writes `value` to every absent address of `range`; bytes already there stay. The origin of what
// it writes is the name "fill", without a line. Error (refused): "image-range".
Try<SparseImage> fill(const SparseImage& image, const Segment& range, std::uint8_t value);

} // namespace cardseal::image
