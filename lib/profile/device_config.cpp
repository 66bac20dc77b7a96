#include "profile/device_config.h"

#include <algorithm>

#include "profile/device_parts.h"
#include "xml/join.h"

namespace cardseal::profile {
namespace {

std::string spell_hex(std::uint32_t value) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  do {
    out.insert(out.begin(), digits[value & 0xFU]);
    value >>= 4;
  } while (value != 0);
  return xml::joined({"0x", out});
}

ConfigValue read_value(const xml::Element& element, const ConfigField& field) {
  ConfigValue value;
  value.id = element.id("id", 16);
  value.bits = element.hex("bits", 0, max_u32);
  value.meaning = element.text("meaning", 1, 64);
  if (element.has("needs")) {
    value.needs = element.id("needs", 16);
  }
  if (element.has("closes")) {
    value.closes = element.id("closes", 16);
    if (element.sound() && field.role != FieldRole::programming_entry) {
      element.refuse("closes", "a value closes an entry, its field is not about entries",
                     value.closes, "role=\"programming-entry\"", "correct one of the two");
    }
  }
  if (element.sound() && (value.bits & ~field.mask) != 0) {
    element.refuse("bits", "a value has bits outside its field's mask", spell_hex(value.bits),
                   xml::joined({"bits within ", spell_hex(field.mask)}), "correct bits or mask");
  }
  for (const ConfigValue& before : field.values) {
    if (element.sound() && (before.id == value.id || before.bits == value.bits)) {
      element.refuse(before.id == value.id ? "id" : "bits", "two values of a field are alike",
                     before.id == value.id ? value.id : spell_hex(value.bits),
                     xml::joined({"other than those of ", before.id}), "correct one of the two");
    }
  }
  return value;
}

void read_required(const xml::Element& element, ConfigField& field) {
  if (!element.has("required")) {
    return;
  }
  field.required = element.id("required", 16);
  if (element.sound() && field.find_value(field.required) == nullptr) {
    std::string ids;
    for (const ConfigValue& value : field.values) {
      ids += xml::joined({ids.empty() ? "" : ", ", value.id});
    }
    element.refuse("required", "the required value is none of the field's", field.required, ids,
                   "name one of them");
  }
}

ConfigField read_field(const xml::Element& element, const ConfigWord& word) {
  constexpr xml::Word<FieldRole> roles[] = {{"debug", FieldRole::debug},
                                            {"protection", FieldRole::protection},
                                            {"programming-entry", FieldRole::programming_entry},
                                            {"clock", FieldRole::clock},
                                            {"other", FieldRole::other}};
  ConfigField field;
  field.id = element.id("id", 16);
  field.role = element.choice("role", roles);
  field.mask = element.hex("mask", 1, max_u32);
  field.meaning = element.text("meaning", 1, 64);
  field.place = element.place();
  if (element.sound() && (field.mask & ~word.mask) != 0) {
    element.refuse("mask", "a field has bits outside its word's mask", spell_hex(field.mask),
                   xml::joined({"bits within ", spell_hex(word.mask)}), "correct one of the two");
  }
  for (const ConfigField& before : word.fields) {
    if (element.sound() && (before.mask & field.mask) != 0) {
      element.refuse("mask", "two fields share bits", spell_hex(field.mask),
                     xml::joined({"none of those of ", before.id}), "correct one of the two");
    }
  }
  for (const xml::Element& one : element.many("value", 1, 256)) {
    field.values.push_back(read_value(one, field));
  }
  read_required(element, field);
  return field;
}

void check_place(const xml::Element& element, const ConfigWord& word,
                 const std::vector<Region>& regions) {
  if (!element.sound()) {
    return;
  }
  const auto region = std::find_if(regions.begin(), regions.end(),
                                   [&](const Region& one) { return one.id == word.region; });
  if (region == regions.end() || region->kind != RegionKind::config) {
    element.refuse("region", "configuration stands in no region of kind config", word.region,
                   "the id of one", "add the region, or name it");
  } else if (word.address < region->address ||
             std::uint64_t{word.address} + word.length > region->end()) {
    element.refuse("address", "a configuration word lies outside its region",
                   spell_hex(word.address),
                   xml::joined({spell_hex(region->address), " and above, below ",
                                std::to_string(region->end())}),
                   "correct one of the two");
  }
}

// A bit that no field names could be anything in a release, and nobody would see it.
void check_named(const xml::Element& element, const ConfigWord& word) {
  std::uint32_t named = 0;
  for (const ConfigField& field : word.fields) {
    named |= field.mask;
  }
  if (element.sound() && (word.mask & ~named) != 0) {
    element.refuse("mask", "bits of a configuration word belong to no field",
                   spell_hex(word.mask & ~named), "every bit of the mask in one field",
                   "add a field for them, if only for what reserved bits must be");
  }
}

void check_bits(const xml::Element& element, const ConfigWord& word) {
  const std::uint64_t most = (std::uint64_t{1} << word.length * 8) - 1;
  for (const auto& [attribute, bits] :
       {std::pair("mask", word.mask), std::pair("delivered", word.delivered.value_or(0))}) {
    if (element.sound() && bits > most) {
      element.refuse(attribute, "more bits than the configuration word has", spell_hex(bits),
                     xml::joined({"at most ", spell_hex(static_cast<std::uint32_t>(most))}),
                     "correct it, or length");
    }
  }
}

ConfigWord read_word(const xml::Element& element, const std::vector<Region>& regions) {
  constexpr xml::Word<std::uint32_t> lengths[] = {{"1", 1}, {"2", 2}, {"4", 4}};
  ConfigWord word;
  word.id = element.id("id", 16);
  word.region = element.id("region", 16);
  word.address = element.hex("address", 0, max_u32);
  word.length = element.choice("length", lengths);
  word.mask = element.hex("mask", 1, max_u32);
  if (element.has("delivered")) {
    word.delivered = element.hex("delivered", 0, max_u32);
  }
  word.place = element.place();
  check_place(element, word, regions);
  check_bits(element, word);
  for (const xml::Element& one : element.many("field", 1, 32)) {
    word.fields.push_back(read_field(one, word));
  }
  check_named(element, word);
  return word;
}

void check_before(const xml::Element& element, const ConfigWord& before, const ConfigWord& word) {
  if (element.sound() && word.address < std::uint64_t{before.address} + before.length) {
    element.refuse("address",
                   "configuration words don't stand in rising order, one after the other",
                   spell_hex(word.address), xml::joined({"an address behind ", before.id}),
                   "sort them, or correct the address");
  }
  if (element.sound() && before.id == word.id) {
    element.refuse("id", "two configuration words have one id", word.id, "an id of its own",
                   "rename one of the two");
  }
  for (const ConfigField& field : word.fields) {
    for (const ConfigField& other : before.fields) {
      if (element.sound() && field.id == other.id) {
        element.refuse({}, "two fields have one id", field.id,
                       xml::joined({"an id other than in line ", std::to_string(other.place.line)}),
                       "rename one of the two");
      }
    }
  }
}

void check_own_fields(const xml::Element& element, const ConfigWord& word) {
  for (std::size_t i = 0; i < word.fields.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (element.sound() && word.fields[i].id == word.fields[j].id) {
        element.refuse(
            {}, "two fields have one id", word.fields[i].id,
            xml::joined({"an id other than in line ", std::to_string(word.fields[j].place.line)}),
            "rename one of the two");
      }
    }
  }
}

} // namespace

const ConfigValue* ConfigField::value_of(std::uint32_t word) const {
  const auto found = std::find_if(values.begin(), values.end(), [&](const ConfigValue& value) {
    return value.bits == (word & mask);
  });
  return found == values.end() ? nullptr : &*found;
}

const ConfigValue* ConfigField::find_value(std::string_view value_id) const {
  const auto found = std::find_if(values.begin(), values.end(),
                                  [&](const ConfigValue& value) { return value.id == value_id; });
  return found == values.end() ? nullptr : &*found;
}

const ConfigField* Configuration::find_field(std::string_view field_id) const {
  for (const ConfigWord& word : words) {
    for (const ConfigField& field : word.fields) {
      if (field.id == field_id) {
        return &field;
      }
    }
  }
  return nullptr;
}

Configuration read_configuration(const xml::Element& element, const std::vector<Region>& regions) {
  Configuration configuration;
  configuration.source = read_source(element);
  configuration.place = element.place();
  for (const xml::Element& one : element.many("word", 1, 32)) {
    ConfigWord word = read_word(one, regions);
    check_own_fields(one, word);
    for (const ConfigWord& before : configuration.words) {
      check_before(one, before, word);
    }
    configuration.words.push_back(std::move(word));
  }
  return configuration;
}

} // namespace cardseal::profile
