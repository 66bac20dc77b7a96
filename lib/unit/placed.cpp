#include "unit/placed.h"

#include "base/crc.h"

namespace cardseal::unit {
namespace {

using format::Encoding;

constexpr std::string_view hex_digits = "0123456789ABCDEF"; // the only letters that are packed

std::uint8_t nibble_of(char c) {
  return static_cast<std::uint8_t>(c <= '9' ? c - '0' : c - 'A' + 10);
}

bool low_first(Encoding encoding) {
  return encoding == Encoding::packed_le || encoding == Encoding::binary_le;
}

// Byte `i` from the front, or from the back when the lowest comes first.
std::size_t place(Encoding encoding, std::size_t size, std::size_t i) {
  return low_first(encoding) ? size - 1 - i : i;
}

bool put(UnitText& text, std::uint8_t character) {
  if (text.size == max_text) {
    return false;
  }
  text.bytes[text.size++] = static_cast<char>(character);
  return true;
}

} // namespace

Frame frame_of(const format::Placement& placement, const Serials& serials) {
  Frame frame;
  frame.whole = placement.second_byte.present ? placement.length / 2U : placement.length;
  frame.padded = frame.whole - (format::is_yes(placement.crc) ? format::crc_size(serials.crc) : 0);
  frame.serial = frame.padded;
  if (!format::is_binary(placement.encoding)) {
    frame.serial = format::encoded_length(
        placement.encoding, format::text_length(serials.parts, placement.parts.value));
  }
  return frame;
}

std::size_t offset_of(std::span<const format::Part> parts, std::size_t at) {
  std::size_t offset = 0;
  for (std::size_t i = 0; i < at && i < parts.size(); ++i) {
    offset += format::part_length(parts[i]);
  }
  return offset;
}

std::string_view piece_of(std::string_view text, std::span<const format::Part> parts,
                          format::PartSpan span) {
  return slice(text, offset_of(parts, span.first - std::size_t{1}),
               format::text_length(parts, span));
}

void encode(const format::Placement& placement, std::string_view text, ByteSpan out) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto character = static_cast<std::uint8_t>(text[i]);
    switch (placement.encoding) {
    case Encoding::ascii:
      out[i] = character;
      break;
    case Encoding::utf_16le:
      out[2 * i] = character;
      out[2 * i + 1] = 0;
      break;
    case Encoding::packed_be:
    case Encoding::packed_le: {
      std::uint8_t& byte = out[place(placement.encoding, out.size(), i / 2)];
      byte = static_cast<std::uint8_t>((byte << 4) | nibble_of(text[i]));
      break;
    }
    case Encoding::binary_be:
    case Encoding::binary_le:
      break;
    }
  }
}

bool decode(const format::Placement& placement, ByteView bytes, UnitText& text) {
  bool good = true;
  for (std::size_t i = 0; good && i < bytes.size(); ++i) {
    switch (placement.encoding) {
    case Encoding::ascii:
      good = put(text, bytes[i]);
      break;
    case Encoding::utf_16le:
      good = i % 2 == 0 ? put(text, bytes[i]) : bytes[i] == 0;
      break;
    case Encoding::packed_be:
    case Encoding::packed_le: {
      const std::uint8_t byte = bytes[place(placement.encoding, bytes.size(), i)];
      good = put(text, static_cast<std::uint8_t>(hex_digits[byte >> 4])) &&
             put(text, static_cast<std::uint8_t>(hex_digits[byte & 0xFU]));
      break;
    }
    case Encoding::binary_be:
    case Encoding::binary_le:
      good = false;
      break;
    }
  }
  return good;
}

bool store_number(std::uint64_t number, Encoding encoding, ByteSpan out) {
  for (std::size_t i = out.size(); i-- > 0; number >>= 8) {
    out[place(encoding, out.size(), i)] = static_cast<std::uint8_t>(number);
  }
  return number == 0;
}

std::uint64_t load_number(ByteView bytes, Encoding encoding) {
  std::uint64_t number = 0;
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    number = (number << 8) | bytes[place(encoding, bytes.size(), i)];
  }
  return number;
}

void complete(const format::Placement& placement, const Serials& serials, const Frame& frame,
              ByteSpan bytes) {
  if (placement.padding.present) {
    fill(bytes.subspan(frame.serial, frame.padded - frame.serial), placement.padding.value);
  }
  CrcModel model{};
  if (frame.whole != frame.padded && parse_crc(serials.crc.value.model.view(), model)) {
    const bool low = serials.crc.value.order == format::ByteOrder::low_first;
    store_number(crc(model, bytes.first(frame.padded)),
                 low ? Encoding::binary_le : Encoding::binary_be,
                 bytes.subspan(frame.padded, frame.whole - frame.padded));
  }
  for (std::size_t i = placement.second_byte.present ? frame.whole : 0; i-- > 0;) {
    bytes[2 * i] = bytes[i];
    bytes[2 * i + 1] = placement.second_byte.value;
  }
}

void strip(const format::Placement& placement, ByteView bytes, ByteSpan out) {
  const std::size_t stride = placement.second_byte.present ? 2 : 1;
  for (std::size_t i = 0; i * stride < bytes.size(); ++i) {
    out[i] = bytes[i * stride];
  }
}

} // namespace cardseal::unit
