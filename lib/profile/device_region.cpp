#include "profile/device_region.h"

#include "profile/device_parts.h"
#include "xml/join.h"

namespace cardseal::profile {
namespace {

void check_end(const xml::Element& element, const Region& region) {
  if (element.sound() && region.end() > std::uint64_t{max_u32} + 1) {
    element.refuse("size", "the region passes the last address of 32 bits",
                   std::to_string(region.end()),
                   xml::joined({"an end of at most ", std::to_string(std::uint64_t{max_u32} + 1)}),
                   "correct address or size");
  }
}

void check_unit(const xml::Element& element, const Region& region, const char* attribute,
                const char* name, std::uint32_t unit, const char* hint) {
  if (element.sound() && (region.size % unit != 0 || region.address % unit != 0)) {
    element.refuse(attribute,
                   xml::joined({"address or size of the region is no multiple of its ", name}),
                   xml::joined({std::to_string(region.address), " and ",
                                std::to_string(region.size), " bytes"}),
                   xml::joined({"multiples of ", std::to_string(unit)}), hint);
  }
}

void check_word(const xml::Element& element, const Region& region) {
  if (element.sound() && (region.erased & ~region.word_mask()) != 0) {
    element.refuse("erased", "a blank word has bits that the word lacks",
                   std::to_string(region.erased),
                   xml::joined({"at most ", std::to_string(region.word_mask())}),
                   "give the word as the device reads it, without phantom bits");
  }
  if (element.sound() && region.word_bytes() % region.address_unit != 0) {
    element.refuse("address-unit", "a word is no whole number of the device's addresses",
                   std::to_string(region.address_unit),
                   xml::joined({"a divisor of ", std::to_string(region.word_bytes())}),
                   "count the bytes that one word takes in a firmware file");
  }
  if (element.sound() && region.write_unit % region.word_bytes() != 0) {
    element.refuse("write-unit", "the write unit is no whole number of words",
                   std::to_string(region.write_unit),
                   xml::joined({"a multiple of ", std::to_string(region.word_bytes())}),
                   "give it in bytes of the firmware file");
  }
}

void check_erase(const xml::Element& element, const Region& region) {
  if (!element.sound() || !region.erase_unit) {
    return;
  }
  if (region.kind == RegionKind::one_time) {
    element.refuse("erase-unit", "memory that is written once is not erased",
                   std::to_string(*region.erase_unit), "no erase-unit with kind=\"one-time\"",
                   "delete it, or correct kind");
  } else if (*region.erase_unit % region.write_unit != 0) {
    element.refuse("erase-unit", "the erase unit is no whole number of write units",
                   std::to_string(*region.erase_unit),
                   xml::joined({"a multiple of ", std::to_string(region.write_unit)}),
                   "look up what the device erases at once");
  }
}

void check_ecc(const xml::Element& element, const Region& region) {
  if (element.sound() && region.ecc_word && region.write_unit % *region.ecc_word != 0 &&
      *region.ecc_word % region.write_unit != 0) {
    element.refuse("ecc-word", "neither of write unit and ECC word is a multiple of the other",
                   std::to_string(*region.ecc_word),
                   xml::joined({"a multiple or divisor of ", std::to_string(region.write_unit)}),
                   "look up what the device checks as one");
  }
}

std::uint32_t read_word_bits(const xml::Element& element) {
  constexpr xml::Word<std::uint32_t> bits[] = {{"8", 8},   {"12", 12}, {"14", 14},
                                               {"16", 16}, {"24", 24}, {"32", 32}};
  return element.choice("word-bits", bits);
}

std::uint32_t read_address_unit(const xml::Element& element) {
  constexpr xml::Word<std::uint32_t> units[] = {{"1", 1}, {"2", 2}, {"4", 4}};
  return element.choice("address-unit", units);
}

} // namespace

Region read_region(const xml::Element& element) {
  constexpr xml::Word<RegionKind> kinds[] = {{"code", RegionKind::code},
                                             {"data", RegionKind::data},
                                             {"user-id", RegionKind::user_id},
                                             {"config", RegionKind::config},
                                             {"one-time", RegionKind::one_time}};
  Region region;
  region.id = element.id("id", 16);
  region.kind = element.choice("kind", kinds);
  region.address = element.hex("address", 0, max_u32);
  region.size = element.size("size", 1, max_u32);
  region.word_bits = read_word_bits(element);
  region.address_unit = read_address_unit(element);
  region.erased = element.hex("erased", 0, max_u32);
  region.write_unit = element.size("write-unit", 1, 65536);
  if (element.has("erase-unit")) {
    region.erase_unit = element.size("erase-unit", 1, max_u32);
  }
  if (element.has("ecc-word")) {
    region.ecc_word = element.size("ecc-word", 1, 65536);
  }
  region.place = element.place();
  if (element.sound() && region.id == "image") { // the name that checksums have for the whole file
    element.refuse("id", "a region can't have this name", region.id, "another one", "rename it");
  }
  check_end(element, region);
  check_unit(element, region, "write-unit", "write unit", region.write_unit,
             "look up what the device programs at once");
  check_word(element, region);
  check_erase(element, region);
  check_unit(element, region, "erase-unit", "erase unit", region.erase_unit.value_or(1),
             "look up what the device erases at once");
  check_ecc(element, region);
  check_unit(element, region, "ecc-word", "ECC word", region.ecc_word.value_or(1),
             "look up what the device checks as one");
  return region;
}

} // namespace cardseal::profile
