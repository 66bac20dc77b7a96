#include "serial/scheme.h"

#include <algorithm>

#include "serial/read_parts.h"
#include "serial/read_place.h"
#include "xml/join.h"

namespace cardseal::serial {
namespace {

constexpr std::uint64_t max_step = 999'999;
constexpr std::uint64_t max_capacity = 1'000'000'000'000;
constexpr std::uint32_t max_text = 64;

// False, with an error, when the last number can't be named at all.
bool find_last(const xml::Element& element, Scheme& scheme) {
  if (unit::number_of(scheme.serials(), scheme.numbers.capacity - 1, scheme.last).ok()) {
    return true;
  }
  element.refuse("capacity", "the last number is too large",
                 xml::joined({std::to_string(scheme.numbers.capacity), " from ",
                              std::to_string(scheme.numbers.first), " in steps of ",
                              std::to_string(scheme.numbers.step)}),
                 xml::joined({"at most ", std::to_string(format::max_serial_number)}),
                 "lower first or capacity");
  return false;
}

// The numbers that so many digits can spell; 0 when that is more than 64 bits hold.
std::uint64_t spelled_by(const format::Part& number) {
  std::uint64_t count = 1;
  for (std::uint32_t i = 0; i < number.width.value; ++i) {
    if (__builtin_mul_overflow(count, std::uint64_t{number.base.value}, &count)) {
      return 0;
    }
  }
  return count;
}

void check_number(const xml::Element& element, const Scheme& scheme) {
  const auto is_number = [](const format::Part& part) {
    return part.kind == format::PartKind::number;
  };
  const auto parts = scheme.parts.view();
  const auto numbers = std::count_if(parts.begin(), parts.end(), is_number);
  if (numbers != 1) {
    element.refuse({}, "a serial text has a wrong number of numbers", std::to_string(numbers),
                   "exactly one <number>, or <eui>",
                   "without one, every unit would get the same text");
    return;
  }
  const format::Part& number = *std::find_if(parts.begin(), parts.end(), is_number);
  const std::uint64_t limit = spelled_by(number);
  if (limit != 0 && scheme.last >= limit) {
    element.refuse("capacity", "the last number does not fit its width",
                   std::to_string(scheme.last),
                   xml::joined({"at most ", std::to_string(limit - 1), ", ",
                                std::to_string(number.width.value), " digits"}),
                   "lower capacity, or widen <number>");
  }
}

void check_place(const xml::Element& element, const Scheme& scheme, std::size_t index) {
  const Placement& placement = scheme.placements[index];
  if (placement.end() > 0x1'0000'0000) {
    element.refuse("length", "the placement passes the last address of 32 bits",
                   std::to_string(placement.end()), "an end of at most 4294967296",
                   "correct the address");
  }
  for (std::size_t i = 0; i < index; ++i) {
    const Placement& other = scheme.placements[i];
    if (other.address < placement.end() && placement.address < other.end()) {
      element.refuse("address", "two placements share addresses",
                     std::string(element.raw("address")),
                     xml::joined({"addresses outside of the placement in line ",
                                  std::to_string(other.place.line)}),
                     "move one of the two");
    }
  }
}

void read_numbers(const xml::Element& element, Scheme& scheme) {
  scheme.numbers.id.set(element.id("scheme", 16));
  scheme.numbers.first = element.uint64("first", 0, format::max_serial_number);
  scheme.numbers.step = element.uint64("step", 1, max_step);
  scheme.numbers.capacity = element.uint64("capacity", 1, max_capacity);
  scheme.place = element.place();
}

} // namespace

std::uint32_t Scheme::text_length() const {
  const auto count = static_cast<std::uint8_t>(parts.count);
  return static_cast<std::uint32_t>(format::text_length(parts.view(), {1, count}));
}

namespace {

bool number_placed(const Scheme& scheme) {
  const auto parts = scheme.parts.view();
  return std::any_of(
      scheme.placements.begin(), scheme.placements.end(), [&](const Placement& placement) {
        if (!placement.parts.present) {
          return true; // binary: the number itself
        }
        const format::PartSpan span = placement.parts.value;
        return std::any_of(parts.begin(), parts.end(), [&](const format::Part& part) {
          return part.kind == format::PartKind::number && part.index >= span.first &&
                 part.index <= span.last;
        });
      });
}

} // namespace

Scheme read_scheme(const xml::Element& element) {
  Scheme scheme;
  read_numbers(element, scheme);
  read_excluded(element, scheme);
  read_taken(element, scheme);
  bool sound = element.sound();
  for (const xml::Element& one :
       element.any_of({"literal", "number", "date-code", "class", "check", "eui"}, 1, 8)) {
    read_part(one, scheme);
    sound = sound && one.sound();
  }
  read_crc(element, scheme);
  const std::vector<xml::Element> places = element.many("place", 1, 8);
  for (const xml::Element& one : places) {
    scheme.placements.push_back(read_place(one, scheme.parts.count));
  }
  sound = sound && element.sound() && find_last(element, scheme);
  if (sound) {
    check_number(element, scheme);
  }
  if (sound && scheme.text_length() > max_text) {
    element.refuse({}, "the serial text is too long", std::to_string(scheme.text_length()),
                   xml::joined({"at most ", std::to_string(max_text)}), "shorten a part");
  }
  if (sound && !number_placed(scheme)) {
    element.refuse({}, "no place holds the number", std::to_string(places.size()) + " places",
                   "one in binary, or one with the part <number>",
                   "else every unit gets the same bytes");
  }
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (places[i].sound()) {
      check_place(places[i], scheme, i);
    }
    if (sound && places[i].sound()) {
      check_length(places[i], scheme, scheme.placements[i]);
    }
  }
  return scheme;
}

} // namespace cardseal::serial
