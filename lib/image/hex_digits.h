// Hex digits to bytes, fast: a firmware file is millions of them. Upper and lower case.
#pragma once

#include <cstddef>
#include <cstdint>

namespace cardseal::image {

bool is_hex_digit(std::uint8_t character);

// Reads 2 * count characters into `count` bytes; false when one of them is no digit, and what is in
// `out` and `sum` then means nothing. `sum` gets the bytes' sum modulo 256.
// 16 bytes and more are decoded 32 characters at a time where the processor has AVX2.
bool decode_digits(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                   std::uint8_t& sum);

// The same for every processor, character pair by character pair.
bool decode_digits_in_pairs(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                            std::uint8_t& sum);

} // namespace cardseal::image
