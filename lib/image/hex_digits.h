// Hex digits to bytes, fast: a firmware file is millions of them. Upper and lower case.
#pragma once

#include <cstddef>
#include <cstdint>

namespace cardseal::image {

inline constexpr char upper_case[] = "0123456789ABCDEF"; // as everything is written

bool is_hex_digit(std::uint8_t character);

// Reads 2 * count characters into `count` bytes; false when one of them is no digit, and what is in
// `out` and `sum` then means nothing. `sum` gets the bytes' sum modulo 256.
// 16 bytes and more are decoded 32 characters at a time where the processor has AVX2.
bool decode_digits(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                   std::uint8_t& sum);

// The same for every processor, character pair by character pair.
bool decode_digits_in_pairs(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                            std::uint8_t& sum);

// The number that eight digits spell, or not_eight_digits.
inline constexpr std::uint64_t not_eight_digits = std::uint64_t{1} << 32;
std::uint64_t decode_eight_digits(const std::uint8_t* digits);

constexpr std::uint8_t sum_of_four_bytes(std::uint64_t number) {
  return static_cast<std::uint8_t>(number + (number >> 8) + (number >> 16) + (number >> 24));
}

} // namespace cardseal::image
