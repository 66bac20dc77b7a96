#include "page/spell.h"

#include <fmt/format.h>

#include "card/sheet.h"
#include "crypto/sha256.h"

namespace cardseal::page {

std::string address(std::uint64_t value) {
  return fmt::format("0x{:08X}", value);
}

std::string time_words(const Utc& time) {
  char out[utc_length];
  return {out, spell_utc(time, out)};
}

std::string grouped(const format::Digest& digest) {
  const std::string digits = crypto::hex(digest);
  std::string out;
  for (std::size_t at = 0; at < digits.size(); at += 4) {
    out += (at == 0 ? "" : " ") + digits.substr(at, 4);
  }
  return out;
}

std::string quantity(std::uint64_t value, format::MarginUnit unit) {
  constexpr std::string_view names[] = {"mV", "mA", "ms"};
  constexpr std::uint64_t second = 1'000'000; // in microseconds
  if (unit == format::MarginUnit::microseconds && value >= second) {
    std::string part = fmt::format("{:06}", value % second);
    part.erase(part.find_last_not_of('0') + 1);
    return fmt::format("{}{}{} s", value / second, part.empty() ? "" : ".", part);
  }
  return fmt::format("{} {}", card::thousandths(value), names[static_cast<std::size_t>(unit)]);
}

std::string duration(std::uint64_t microseconds) {
  constexpr std::uint64_t second = 1'000'000;
  constexpr std::uint64_t minute = 60;
  constexpr std::uint64_t hour = 60 * minute;
  if (microseconds < second) {
    return card::thousandths(microseconds) + " ms";
  }
  const std::uint64_t tenths = (microseconds + second / 20) / (second / 10);
  if (tenths < 10 * minute) {
    return fmt::format("{}.{} s", tenths / 10, tenths % 10);
  }
  const std::uint64_t seconds = (microseconds + second / 2) / second;
  if (seconds < hour) {
    const std::string rest = fmt::format(" {} s", seconds % minute);
    return fmt::format("{} min{}", seconds / minute, seconds % minute == 0 ? "" : rest);
  }
  const std::uint64_t minutes = (microseconds + minute * second / 2) / (minute * second);
  return fmt::format("{} h {} min", minutes / 60, minutes % 60);
}

std::string hex_digits(std::uint64_t value, int digits) {
  return fmt::format("{:0{}X}", value, digits);
}

} // namespace cardseal::page
