#include "image/hex_digits.h"

#include <vector>

#include "base/bytes.h"

namespace cardseal::image {
namespace {

constexpr std::uint16_t no_pair = 0x100; // any value above 255 does

unsigned value_of(std::uint8_t digit) {
  return digit <= '9' ? digit - '0' : (digit & 0xFU) + 9U;
}

// The byte that two characters spell, by both of them at once: one look-up a byte instead of two.
std::vector<std::uint16_t> make_pair_values() {
  std::vector<std::uint16_t> values(std::size_t{1} << 16, no_pair);
  for (std::uint32_t pair = 0; pair < values.size(); ++pair) {
    const auto high = static_cast<std::uint8_t>(pair & 0xFFU); // it comes first: lower address
    const auto low = static_cast<std::uint8_t>(pair >> 8);
    if (is_hex_digit(high) && is_hex_digit(low)) {
      values[pair] = static_cast<std::uint16_t>((value_of(high) << 4) | value_of(low));
    }
  }
  return values;
}

} // namespace

bool is_hex_digit(std::uint8_t character) {
  return (character >= '0' && character <= '9') || (character >= 'A' && character <= 'F') ||
         (character >= 'a' && character <= 'f');
}

bool decode_digits(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                   std::uint8_t& sum) {
  static const std::vector<std::uint16_t> pairs = make_pair_values();
  const std::uint16_t* const values = pairs.data();
  unsigned all = 0;
  unsigned total = 0;
  for (std::size_t index = 0; index < count; ++index) {
    const unsigned byte = values[load_le16(digits + 2 * index)];
    all |= byte;
    total += byte;
    out[index] = static_cast<std::uint8_t>(byte);
  }
  sum = static_cast<std::uint8_t>(total);
  return all <= 0xFF;
}

} // namespace cardseal::image
