// Sums and CRCs over a range of an image, for comparing with what a station or a data sheet shows.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "base/bytes.h"
#include "base/crc.h"
#include "diag/error.h"
#include "image/sparse_image.h"

namespace cardseal::image {

inline constexpr std::uint64_t longest_summed = std::uint64_t{1} << 32; // bytes; 4 GiB

struct SumRange {
  std::optional<Segment> range;     // else from the first to the last byte of the image
  std::optional<std::uint8_t> fill; // value of absent bytes; without it they are refused
};

// Sum of all bytes modulo 2^32; its lower half is the 16-bit sum.
// Errors of all three (refused): "image-empty", "image-gap", "image-range".
Try<std::uint32_t> byte_sum_32(const SparseImage& image, const SumRange& over);
Try<std::uint16_t> byte_sum_16(const SparseImage& image, const SumRange& over);

// `model` is one of the catalogue's (base/crc.h, find_crc).
Try<std::uint32_t> image_crc(const SparseImage& image, const CrcModel& model, const SumRange& over);

// The same values as Crc of base/crc.h, from tables of 16 KiB: sixteen bytes at a time.
class TableCrc {
public:
  explicit TableCrc(const CrcModel& model);
  void update(ByteView bytes);
  std::uint32_t value() const;

private:
  static constexpr std::size_t at_once = 16;
  std::uint32_t take_block(std::uint32_t state, const std::uint8_t* block) const;
  std::uint32_t take_byte(std::uint32_t state, std::uint8_t byte) const;

  CrcModel model_;
  // tables_[k][b]: what byte b does to the state when k more bytes, all zero, have followed it.
  std::array<std::array<std::uint32_t, 256>, at_once> tables_{};
  std::uint32_t state_; // reflected: low bits; else shifted up so that its top bit is bit 31
};

} // namespace cardseal::image
