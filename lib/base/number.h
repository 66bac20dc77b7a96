// The one spelling of numbers, hex and times in everything Cardseal seals (lib/format/SPEC.md).
// Readers accept exactly what writers write; there is no second form.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "base/bytes.h"

namespace cardseal {

inline constexpr std::size_t max_uint_digits = 19; // 9,999,999,999,999,999,999 fits 64 bits

// "0" or a digit string without leading zero, at most 19 digits. False otherwise.
bool parse_uint(std::string_view text, std::uint64_t& out);

// Lower-case digits only, text.size() == 2 * out.size(). False otherwise.
bool parse_hex_bytes(std::string_view text, ByteSpan out);

// 1 to 16 lower-case hex digits, leading zeros allowed (fields of fixed width). False otherwise.
bool parse_hex(std::string_view text, std::uint64_t& out);

struct Utc {
  std::uint16_t year = 0; // 0 to 9999, proleptic Gregorian
  std::uint8_t month = 0; // 1 to 12
  std::uint8_t day = 0;   // 1 to the month's last
  std::uint8_t hour = 0;
  std::uint8_t minute = 0;
  std::uint8_t second = 0; // at most 59: no leap seconds
  friend constexpr auto operator<=>(const Utc&, const Utc&) = default;
};

bool is_real_date(const Utc& time);

// YYYY-MM-DDThh:mm:ssZ, a real date (the profile of ISO 8601 that RFC 3339 names). False otherwise.
bool parse_utc(std::string_view text, Utc& out);

inline constexpr std::size_t utc_length = 20;

// Writers return the number of characters written, or 0 when `out` is too small.
std::size_t spell_uint(std::uint64_t value, std::span<char> out);
std::size_t spell_hex(std::uint64_t value, std::size_t digits, std::span<char> out);
std::size_t spell_hex_bytes(ByteView bytes, std::span<char> out);
std::size_t spell_utc(const Utc& time, std::span<char> out);

} // namespace cardseal
