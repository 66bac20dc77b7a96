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
  return fmt::format("{} {}", card::thousandths(value), names[static_cast<std::size_t>(unit)]);
}

std::string hex_digits(std::uint64_t value, int digits) {
  return fmt::format("{:0{}X}", value, digits);
}

} // namespace cardseal::page
