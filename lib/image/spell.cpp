#include "image/spell.h"

namespace cardseal::image {
namespace {

constexpr char digits[] = "0123456789ABCDEF";

} // namespace

std::string spell_address(std::uint64_t address) {
  std::string reversed;
  do {
    reversed += digits[address & 15U];
    address >>= 4;
  } while (address != 0);
  return "0x" + std::string(reversed.rbegin(), reversed.rend());
}

std::string spell_byte(std::uint8_t byte) {
  return std::string("0x") + digits[byte >> 4] + digits[byte & 15U];
}

std::string spell_character(std::uint8_t byte) {
  if (byte < 0x20 || byte > 0x7E) {
    return "byte " + spell_byte(byte);
  }
  return std::string("'") + static_cast<char>(byte) + "'";
}

std::string spell_count(std::uint64_t count, const char* unit) {
  return std::to_string(count) + " " + unit + (count == 1 ? "" : "s");
}

} // namespace cardseal::image
