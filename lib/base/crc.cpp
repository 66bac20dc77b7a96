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

std::uint32_t step_reflected(std::uint32_t state, std::uint32_t reversed_poly) {
  return (state >> 1) ^ ((state & 1U) != 0 ? reversed_poly : 0);
}

// Bit by bit: no station needs one of these.
std::uint32_t feed_plain(std::uint32_t state, std::uint8_t byte, const CrcModel& model) {
  state ^= static_cast<std::uint32_t>(byte) << (model.width - 8);
  for (int bit = 0; bit < 8; ++bit) {
    const bool top = ((state >> (model.width - 1)) & 1U) != 0;
    state = (state << 1) ^ (top ? model.poly : 0);
  }
  return state & mask_of(model.width);
}

// The part before the next '/', and `text` behind it.
std::string_view take_part(std::string_view& text) {
  std::size_t length = 0;
  while (length < text.size() && text[length] != '/') {
    ++length;
  }
  const std::string_view part = slice(text, 0, length);
  text = length < text.size() ? slice(text, length + 1, text.size() - length - 1) : "";
  return part;
}

bool parse_digits(std::string_view text, unsigned width, std::uint32_t& value) {
  if (text.size() != width / 4) {
    return false;
  }
  value = 0;
  for (const char c : text) {
    const bool digit = c >= '0' && c <= '9';
    if (!digit && (c < 'a' || c > 'f')) {
      return false;
    }
    value = value << 4 | static_cast<std::uint32_t>(digit ? c - '0' : c - 'a' + 10);
  }
  return true;
}

unsigned parse_width(std::string_view text) {
  constexpr struct {
    std::string_view text;
    unsigned width;
  } widths[] = {{"8", 8}, {"16", 16}, {"24", 24}, {"32", 32}};
  for (const auto& known : widths) {
    if (known.text == text) {
      return known.width;
    }
  }
  return 0;
}

bool parse_parameters(std::string_view text, CrcModel& model) {
  model = {text, parse_width(take_part(text)), 0, 0, false, 0, 0};
  const std::string_view poly = take_part(text);
  const std::string_view init = take_part(text);
  const std::string_view reflected = take_part(text);
  model.reflected = reflected == "r";
  return model.width != 0 && parse_digits(poly, model.width, model.poly) &&
         parse_digits(init, model.width, model.init) && (reflected == "r" || reflected == "n") &&
         parse_digits(text, model.width, model.xorout);
}

bool same_parameters(const CrcModel& a, const CrcModel& b) {
  return a.width == b.width && a.poly == b.poly && a.init == b.init && a.reflected == b.reflected &&
         a.xorout == b.xorout;
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

bool parse_crc(std::string_view text, CrcModel& model) {
  if (const CrcModel* known = find_crc(text)) {
    model = *known;
    return true;
  }
  if (!parse_parameters(text, model)) {
    return false;
  }
  for (const CrcModel& known : crc_models) {
    if (same_parameters(known, model)) {
      return false;
    }
  }
  return true;
}

Crc::Crc(const CrcModel& model)
    : model_(model), state_(model.reflected ? reverse(model.init, model.width) : model.init) {
  const std::uint32_t reversed_poly = reverse(model.poly, model.width);
  for (std::uint32_t nibble = 0; nibble < nibbles_.size() && model.reflected; ++nibble) {
    std::uint32_t state = nibble;
    for (int bit = 0; bit < 4; ++bit) {
      state = step_reflected(state, reversed_poly);
    }
    nibbles_[nibble] = state;
  }
}

void Crc::update(ByteView bytes) {
  for (const std::uint8_t byte : bytes) {
    if (model_.reflected) {
      state_ ^= byte;
      state_ = (state_ >> 4) ^ nibbles_[state_ & 0xFU];
      state_ = (state_ >> 4) ^ nibbles_[state_ & 0xFU];
    } else {
      state_ = feed_plain(state_, byte, model_);
    }
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
