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
  for (std::uint32_t index = 0; index < table_.size(); ++index) {
    std::uint32_t entry = model.reflected ? index : index << 24;
    for (int bit = 0; bit < 8; ++bit) {
      if (model.reflected) {
        entry = (entry >> 1) ^ ((entry & 1U) != 0 ? poly : 0);
      } else {
        entry = (entry << 1) ^ ((entry >> 31) != 0 ? poly : 0);
      }
    }
    table_[index] = entry;
  }
}

void TableCrc::update(ByteView bytes) {
  std::uint32_t state = state_;
  if (model_.reflected) {
    for (const std::uint8_t byte : bytes) {
      state = (state >> 8) ^ table_[(state ^ byte) & 0xFFU];
    }
  } else {
    for (const std::uint8_t byte : bytes) {
      state = (state << 8) ^ table_[(state >> 24) ^ byte];
    }
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
