// A device's configuration words, field by field: what the bits mean, and which meaning a release
// must have.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "profile/device_region.h"
#include "profile/source.h"

namespace cardseal::profile {

enum class FieldRole : std::uint8_t {
  debug,             // an open debugger makes a product readable, and often unreliable
  protection,        // whether memory can be read out or changed
  programming_entry, // whether a station gets in again
  clock,             // where the device's clock comes from
  other,
};

struct ConfigValue {
  std::string id;         // at most 16
  std::uint32_t bits = 0; // within the field's mask
  std::string meaning;    // 1 to 64 bytes
  std::string needs;      // a clock that the board must have; empty: none
  std::string closes;     // an entry by which a station then gets in no more; empty: none
};

struct ConfigField {
  std::string id; // at most 16, one of its kind in the device
  FieldRole role = FieldRole::other;
  std::uint32_t mask = 0; // within the word's mask, shared with no other field
  std::string meaning;    // 1 to 64 bytes
  std::vector<ConfigValue> values;
  std::string required; // id of the value that a release must have; empty: any of them
  Place place;

  const ConfigValue* value_of(std::uint32_t word) const; // null: no named value
  const ConfigValue* find_value(std::string_view value_id) const;
};

struct ConfigWord {
  std::string id; // at most 16
  std::string region;
  std::uint32_t address = 0;              // byte address of the low byte
  std::uint32_t length = 1;               // bytes: 1, 2 or 4, low byte first
  std::uint32_t mask = 0;                 // bits that exist; the device sum counts only these
  std::optional<std::uint32_t> delivered; // value as the maker delivers it; none: not known
  std::vector<ConfigField> fields;
  Place place;
};

struct Configuration {
  std::vector<ConfigWord> words;
  Source source;
  Place place;

  const ConfigField* find_field(std::string_view field_id) const;
};

// `regions` are the device's. Words are read in rising address order.
Configuration read_configuration(const xml::Element& element, const std::vector<Region>& regions);

} // namespace cardseal::profile
