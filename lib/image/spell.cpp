#include "image/spell.h"

#include "image/hex_digits.h"

namespace cardseal::image {

std::string spell_address(std::uint64_t address) {
  std::string reversed;
  do {
    reversed += upper_case[address & 15U];
    address >>= 4;
  } while (address != 0);
  return "0x" + std::string(reversed.rbegin(), reversed.rend());
}

std::string spell_byte(std::uint8_t byte) {
  return std::string("0x") + upper_case[byte >> 4] + upper_case[byte & 15U];
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
