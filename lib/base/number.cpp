#include "base/number.h"

#include "base/checked.h"

namespace cardseal {
namespace {

// -1 when `c` is not one of 0-9a-f.
int hex_value(char c) {
  if (c >= '0' && c <= '9') {
    return c - '0';
  }
  if (c >= 'a' && c <= 'f') {
    return c - 'a' + 10;
  }
  return -1;
}

char hex_digit(unsigned value) {
  return "0123456789abcdef"[value & 0xFU];
}

bool parse_digits(std::string_view text, unsigned& out) {
  unsigned value = 0;
  for (const char c : text) {
    if (c < '0' || c > '9') {
      return false;
    }
    value = value * 10 + static_cast<unsigned>(c - '0');
  }
  out = value;
  return true;
}

unsigned days_in_month(unsigned year, unsigned month) {
  constexpr std::uint8_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  return month == 2 && leap ? 29U : days[month - 1];
}

void put_digits(unsigned value, std::size_t digits, char* at) {
  for (std::size_t i = digits; i-- > 0; value /= 10) {
    at[i] = static_cast<char>('0' + value % 10);
  }
}

} // namespace

bool parse_uint(std::string_view text, std::uint64_t& out) {
  if (text.empty() || text.size() > max_uint_digits || (text.size() > 1 && text[0] == '0')) {
    return false;
  }
  std::uint64_t value = 0;
  for (const char c : text) {
    if (c < '0' || c > '9') {
      return false;
    }
    value = value * 10 + static_cast<std::uint64_t>(c - '0');
  }
  out = value;
  return true;
}

bool parse_hex_bytes(std::string_view text, ByteSpan out) {
  if (text.size() != 2 * out.size()) {
    return false;
  }
  for (std::size_t i = 0; i < out.size(); ++i) {
    const int high = hex_value(text[2 * i]);
    const int low = hex_value(text[2 * i + 1]);
    if (high < 0 || low < 0) {
      return false;
    }
    out[i] = static_cast<std::uint8_t>(high * 16 + low);
  }
  return true;
}

bool parse_hex(std::string_view text, std::uint64_t& out) {
  if (text.empty() || text.size() > 16) {
    return false;
  }
  std::uint64_t value = 0;
  for (const char c : text) {
    const int digit = hex_value(c);
    if (digit < 0) {
      return false;
    }
    value = (value << 4) | static_cast<std::uint64_t>(digit);
  }
  out = value;
  return true;
}

bool is_real_date(const Utc& time) {
  return time.year <= 9999 && time.month >= 1 && time.month <= 12 && time.day >= 1 &&
         time.day <= days_in_month(time.year, time.month) && time.hour <= 23 && time.minute <= 59 &&
         time.second <= 59;
}

bool parse_utc(std::string_view text, Utc& out) {
  if (text.size() != utc_length || text[4] != '-' || text[7] != '-' || text[10] != 'T' ||
      text[13] != ':' || text[16] != ':' || text[19] != 'Z') {
    return false;
  }
  unsigned parts[6] = {};
  constexpr std::size_t starts[6] = {0, 5, 8, 11, 14, 17};
  for (std::size_t i = 0; i < 6; ++i) {
    if (!parse_digits(slice(text, starts[i], i == 0 ? 4 : 2), parts[i])) {
      return false;
    }
  }
  const Utc time{static_cast<std::uint16_t>(parts[0]), static_cast<std::uint8_t>(parts[1]),
                 static_cast<std::uint8_t>(parts[2]),  static_cast<std::uint8_t>(parts[3]),
                 static_cast<std::uint8_t>(parts[4]),  static_cast<std::uint8_t>(parts[5])};
  if (!is_real_date(time)) {
    return false;
  }
  out = time;
  return true;
}

std::size_t spell_uint(std::uint64_t value, std::span<char> out) {
  std::size_t digits = 1;
  for (std::uint64_t rest = value / 10; rest != 0; rest /= 10) {
    ++digits;
  }
  if (digits > out.size()) {
    return 0;
  }
  for (std::size_t i = digits; i-- > 0; value /= 10) {
    out[i] = static_cast<char>('0' + value % 10);
  }
  return digits;
}

std::size_t spell_hex(std::uint64_t value, std::size_t digits, std::span<char> out) {
  if (digits > out.size()) {
    return 0;
  }
  for (std::size_t i = digits; i-- > 0; value >>= 4) {
    out[i] = hex_digit(static_cast<unsigned>(value & 0xFU));
  }
  return digits;
}

std::size_t spell_hex_bytes(ByteView bytes, std::span<char> out) {
  if (2 * bytes.size() > out.size()) {
    return 0;
  }
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    out[2 * i] = hex_digit(bytes[i] >> 4U);
    out[2 * i + 1] = hex_digit(bytes[i]);
  }
  return 2 * bytes.size();
}

std::size_t spell_utc(const Utc& time, std::span<char> out) {
  if (out.size() < utc_length) {
    return 0;
  }
  copy({reinterpret_cast<std::uint8_t*>(out.data()), utc_length}, bytes_of("0000-00-00T00:00:00Z"));
  put_digits(time.year, 4, out.data());
  put_digits(time.month, 2, out.data() + 5);
  put_digits(time.day, 2, out.data() + 8);
  put_digits(time.hour, 2, out.data() + 11);
  put_digits(time.minute, 2, out.data() + 14);
  put_digits(time.second, 2, out.data() + 17);
  return utc_length;
}

} // namespace cardseal
