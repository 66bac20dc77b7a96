#include "base/crc.h"

namespace cardseal {
namespace {

std::uint32_t mask_of(unsigned width) {
  return static_cast<std::uint32_t>((std::uint64_t{1} << width) - 1);
}

std::uint32_t reverse(std::uint32_t value, unsigned width) {
  std::uint32_t out = 0;
  for (unsigned bit = 0; bit < width; ++bit) {
    out = (out << 1) | ((value >> bit) & 1U);
  }
  return out;
}

// Bit by bit and without a table: a station pays 8 steps a byte and no memory.
std::uint32_t feed_reflected(std::uint32_t state, std::uint8_t byte, std::uint32_t reversed_poly) {
  state ^= byte;
  for (int bit = 0; bit < 8; ++bit) {
    state = (state >> 1) ^ ((state & 1U) != 0 ? reversed_poly : 0);
  }
  return state;
}

std::uint32_t feed_plain(std::uint32_t state, std::uint8_t byte, const CrcModel& model) {
  state ^= static_cast<std::uint32_t>(byte) << (model.width - 8);
  for (int bit = 0; bit < 8; ++bit) {
    const bool top = ((state >> (model.width - 1)) & 1U) != 0;
    state = (state << 1) ^ (top ? model.poly : 0);
  }
  return state & mask_of(model.width);
}

} // namespace

const CrcModel* find_crc(std::string_view catalogue_name) {
  for (const CrcModel& model : crc_models) {
    if (model.name == catalogue_name) {
      return &model;
    }
  }
  return nullptr;
}

Crc::Crc(const CrcModel& model)
    : model_(model), state_(model.reflected ? reverse(model.init, model.width) : model.init) {}

void Crc::update(ByteView bytes) {
  const std::uint32_t reversed_poly = reverse(model_.poly, model_.width);
  for (const std::uint8_t byte : bytes) {
    state_ = model_.reflected ? feed_reflected(state_, byte, reversed_poly)
                              : feed_plain(state_, byte, model_);
  }
}

std::uint32_t Crc::value() const {
  return (state_ ^ model_.xorout) & mask_of(model_.width);
}

std::uint32_t crc(const CrcModel& model, ByteView bytes) {
  Crc running(model);
  running.update(bytes);
  return running.value();
}

std::uint32_t crc32(ByteView bytes) {
  return crc(*find_crc("CRC-32/ISO-HDLC"), bytes);
}

} // namespace cardseal
