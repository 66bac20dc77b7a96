// Two images, address by address.
#pragma once

#include <cstdint>
#include <vector>

#include "image/sparse_image.h"

namespace cardseal::image {

enum class Difference : std::uint8_t { bytes_differ, only_in_a, only_in_b };

inline constexpr std::size_t bytes_shown = 8;

// Neighbouring addresses that differ in one way.
struct DifferentRange {
  Difference what = Difference::bytes_differ;
  Segment range;
  std::vector<std::uint8_t> a; // the first bytes, at most `bytes_shown`; empty when not in a
  std::vector<std::uint8_t> b;
};

struct Comparison {
  std::uint64_t equal_bytes = 0;
  std::uint64_t different_bytes = 0;  // addresses in both
  std::uint64_t only_in_a = 0;        // bytes
  std::uint64_t only_in_b = 0;        // bytes
  std::uint64_t range_count = 0;      // all ranges, also those not kept
  std::vector<DifferentRange> ranges; // the first ones in address order
  bool same() const { return range_count == 0; }
};

Comparison compare(const SparseImage& a, const SparseImage& b, std::size_t ranges_kept = 1000);

} // namespace cardseal::image
