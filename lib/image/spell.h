// How addresses, bytes and counts look in this module's messages.
#pragma once

#include <cstdint>
#include <string>

namespace cardseal::image {

std::string spell_address(std::uint64_t address); // "0x1FFF8": upper case, no leading zeros
std::string spell_byte(std::uint8_t byte);        // "0x08"
std::string spell_character(std::uint8_t byte);   // "';'" when printable ASCII, else "byte 0x00"
std::string spell_count(std::uint64_t count, const char* unit); // "1 byte", "2 bytes"

} // namespace cardseal::image
