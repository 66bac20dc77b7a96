// One piece of a device's memory, as a firmware file addresses it. Every address here is a byte
// address of the firmware file; a device that counts words has its own spelling (`device_address`),
// for reading its documents and ELF files and for printing only.
//
// A word that has fewer bits than the bytes it takes carries phantom bits: 14-bit words take two
// bytes and 24-bit instruction words take four. They are always 0, and no device holds them.
#pragma once

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>

#include "diag/error.h"
#include "xml/element.h"

namespace cardseal::profile {

enum class RegionKind : std::uint8_t {
  code,
  data,     // beside the code, e.g. EEPROM
  user_id,  // free for the product's maker; no program runs from it
  config,   // configuration words, fuses, lock bits
  one_time, // can't be erased
};

struct Region {
  std::string id; // at most 16
  RegionKind kind = RegionKind::code;
  std::uint32_t address = 0;      // of the first byte; address + size is at most 2^32
  std::uint32_t size = 1;         // bytes, a multiple of write_unit
  std::uint32_t word_bits = 8;    // 8, 12, 14, 16, 24 or 32
  std::uint32_t address_unit = 1; // bytes between two addresses of the device: 1, 2 or 4
  std::uint32_t erased = 0xFF;    // one blank word, no bit outside word_mask()
  std::uint32_t write_unit = 1;   // bytes programmed at once; the region starts on such a boundary
  std::optional<std::uint32_t> erase_unit; // bytes erased at once; none: only everything at once
  std::optional<std::uint32_t> ecc_word;   // bytes under one check code
  Place place;

  std::uint64_t end() const { return std::uint64_t{address} + size; }
  // Bytes that can only be programmed together; of write unit and ECC word one is a multiple of the
  // other.
  std::uint32_t together() const { return std::max(write_unit, ecc_word.value_or(1)); }
  std::uint32_t word_bytes() const { return word_bits <= 8 ? 1 : word_bits <= 16 ? 2 : 4; }
  std::uint32_t word_mask() const {
    return static_cast<std::uint32_t>((std::uint64_t{1} << word_bits) - 1);
  }
  // What a blank byte at `at` (inside) reads; low byte of a word first.
  std::uint8_t erased_byte(std::uint64_t at) const {
    return static_cast<std::uint8_t>(erased >> (at - address) % word_bytes() * 8);
  }
  std::uint64_t device_address(std::uint64_t at) const { return at / address_unit; }
};

Region read_region(const xml::Element& element);

} // namespace cardseal::profile
