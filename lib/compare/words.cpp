#include "compare/words.h"

#include <fmt/format.h>

#include "card/sheet.h"
#include "image/spell.h"

namespace cardseal::compare {
namespace {

std::uint64_t number(const Fields& fields, std::size_t at) {
  return fields[at].number.value_or(0);
}

std::uint32_t number_32(const Fields& fields, std::size_t at) {
  return static_cast<std::uint32_t>(number(fields, at));
}

} // namespace

std::string as_sealed(const Fields& fields, std::size_t at) {
  return fields[at].text;
}

std::string volts(const Fields& fields, std::size_t at) {
  return card::volts(number_32(fields, at));
}

std::string slots(const Fields& fields, std::size_t at) {
  const std::uint32_t mask = number_32(fields, at);
  return mask == 0 ? "none" : card::slot_words(mask, mask);
}

std::string address(const Fields& fields, std::size_t at) {
  return fmt::format("0x{:08X}", number(fields, at));
}

std::string bits(const Fields& fields, std::size_t at) {
  return fmt::format("0x{:02X}", number(fields, at));
}

std::string byte_count(const Fields& fields, std::size_t at) {
  return image::spell_count(number(fields, at), "byte");
}

std::string milliseconds(const Fields& fields, std::size_t at) {
  return card::thousandths(number(fields, at)) + " ms";
}

std::string stop_after(const Fields& fields, std::size_t at) {
  return number(fields, at) == 0
             ? std::string("never")
             : fmt::format("after {} in a row", image::spell_count(number(fields, at), "failure"));
}

std::string checksum_value(const Fields& fields, std::size_t at) {
  return card::checksum_digits(fields[0].text, number_32(fields, at));
}

std::string shown_value(const Fields& fields, std::size_t at) {
  return card::checksum_digits(fields[at - 1].text, number_32(fields, at));
}

std::string margin_value(const Fields& fields, std::size_t at) {
  const std::string& unit = fields[4].text; // margin_unit_words: thousandths of what people read
  return card::thousandths(number(fields, at)) + (unit == "uv"   ? " mV"
                                                  : unit == "ua" ? " mA"
                                                                 : " ms");
}

std::string margin_distance(const Fields& fields, std::size_t at) {
  return (fields[3].text == "holds" ? "" : "-") + margin_value(fields, at);
}

} // namespace cardseal::compare
