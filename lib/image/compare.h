// Two images, address by address.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
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

// Takes the bytes of both images in address order, in runs. Where only one image has bytes, the
// other's are empty; where both have, there are as many.
using TakeBoth = std::function<void(std::uint64_t address, ByteView a, ByteView b)>;
void walk_both(const SparseImage& a, const SparseImage& b, const TakeBoth& take);

Comparison compare(const SparseImage& a, const SparseImage& b, std::size_t ranges_kept = 1000);

// Sixteen addresses and what both images have there: a difference with what is around it.
struct Row {
  std::uint64_t address = 0; // a multiple of 16
  std::array<std::optional<std::uint8_t>, 16> a;
  std::array<std::optional<std::uint8_t>, 16> b;
};

// The rows that `range` touches, and `around` rows before and after it; rows without a byte of
// either image are left out, and at most `most` are given.
std::vector<Row> rows_around(const SparseImage& a, const SparseImage& b, const Segment& range,
                             std::uint64_t around, std::size_t most);

} // namespace cardseal::image
