#include "image/checksums.h"

#include "image/range.h"

namespace cardseal::image {
namespace {

std::uint32_t reverse(std::uint32_t value, unsigned width) {
  std::uint32_t out = 0;
  for (unsigned bit = 0; bit < width; ++bit) {
    out = (out << 1) | ((value >> bit) & 1U);
  }
  return out;
}

} // namespace

TableCrc::TableCrc(const CrcModel& model)
    : model_(model), state_(model.reflected ? reverse(model.init, model.width)
                                            : model.init << (32 - model.width)) {
  const std::uint32_t poly =
      model.reflected ? reverse(model.poly, model.width) : model.poly << (32 - model.width);
  for (std::uint32_t index = 0; index < 256; ++index) {
    std::uint32_t entry = model.reflected ? index : index << 24;
    for (int bit = 0; bit < 8; ++bit) {
      if (model.reflected) {
        entry = (entry >> 1) ^ ((entry & 1U) != 0 ? poly : 0);
      } else {
        entry = (entry << 1) ^ ((entry >> 31) != 0 ? poly : 0);
      }
    }
    tables_[0][index] = entry;
  }
  for (std::size_t after = 1; after < at_once; ++after) {
    for (std::uint32_t index = 0; index < 256; ++index) {
      tables_[after][index] = take_byte(tables_[after - 1][index], 0);
    }
  }
}

std::uint32_t TableCrc::take_byte(std::uint32_t state, std::uint8_t byte) const {
  return model_.reflected ? (state >> 8) ^ tables_[0][(state ^ byte) & 0xFFU]
                          : (state << 8) ^ tables_[0][(state >> 24) ^ byte];
}

// The state before the block acts like four bytes added to the block's first four.
std::uint32_t TableCrc::take_block(std::uint32_t state, const std::uint8_t* block) const {
  const std::uint32_t head = state ^ (model_.reflected ? load_le32(block) : load_be32(block));
  std::uint32_t out = 0;
#pragma GCC unroll 4
  for (unsigned index = 0; index < 4; ++index) {
    const unsigned shift = model_.reflected ? 8 * index : 24 - 8 * index;
    out ^= tables_[at_once - 1 - index][(head >> shift) & 0xFFU];
  }
#pragma GCC unroll 12
  for (std::size_t index = 4; index < at_once; ++index) {
    out ^= tables_[at_once - 1 - index][block[index]];
  }
  return out;
}

void TableCrc::update(ByteView bytes) {
  std::uint32_t state = state_;
  while (bytes.size() >= at_once) {
    state = take_block(state, bytes.data());
    bytes = bytes.subspan(at_once);
  }
  for (const std::uint8_t byte : bytes) {
    state = take_byte(state, byte);
  }
  state_ = state;
}

std::uint32_t TableCrc::value() const {
  const std::uint32_t state = model_.reflected ? state_ : state_ >> (32 - model_.width);
  return state ^ model_.xorout;
}

Try<std::uint32_t> byte_sum_32(const SparseImage& image, const SumRange& over) {
  auto range = range_to_walk(image, over.range, over.fill, longest_summed);
  if (!range) {
    return Unexpected(std::move(range).error());
  }
  std::uint32_t sum = 0;
  walk(image, *range, over.fill.value_or(0), [&](ByteView bytes) {
    for (const std::uint8_t byte : bytes) {
      sum += byte;
    }
  });
  return sum;
}

Try<std::uint16_t> byte_sum_16(const SparseImage& image, const SumRange& over) {
  auto sum = byte_sum_32(image, over);
  if (!sum) {
    return Unexpected(std::move(sum).error());
  }
  return static_cast<std::uint16_t>(*sum);
}

Try<std::uint32_t> image_crc(const SparseImage& image, const CrcModel& model,
                             const SumRange& over) {
  auto range = range_to_walk(image, over.range, over.fill, longest_summed);
  if (!range) {
    return Unexpected(std::move(range).error());
  }
  TableCrc running(model);
  walk(image, *range, over.fill.value_or(0), [&](ByteView bytes) { running.update(bytes); });
  return running.value();
}

} // namespace cardseal::image
