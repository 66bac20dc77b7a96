#include "serial/scheme.h"

#include <algorithm>

#include "xml/join.h"

namespace cardseal::serial {

namespace {

// The same limits as in a sealed manifest (lib/format/manifest.h).
constexpr std::uint64_t max_number = 9'999'999'999'999'999'999U;
constexpr std::uint64_t max_step = 999'999;
constexpr std::uint64_t max_capacity = 1'000'000'000'000;
constexpr std::uint32_t max_text = 64;

Part read_part(const xml::Element& element) {
  Part part;
  part.place = element.place();
  if (element.name() == "literal") {
    part.text = element.display("text", 1, 16);
    return part;
  }
  part.kind = PartKind::number;
  part.base = element.uint("base", 10, 10);
  part.width = element.uint("width", 1, 19);
  return part;
}

Placement read_placement(const xml::Element& element) {
  constexpr xml::Word<Encoding> encodings[] = {{"ascii", Encoding::ascii},
                                               {"binary-be", Encoding::binary_be},
                                               {"binary-le", Encoding::binary_le}};
  constexpr xml::Word<Before> befores[] = {{"erased", Before::erased},
                                           {"placeholder", Before::placeholder}};
  Placement placement;
  placement.region = element.id("region", 16);
  placement.address = element.hex("address", 0, 0xFFFFFFFF);
  placement.encoding = element.choice("encoding", encodings);
  placement.length = element.uint("length", 1, max_text);
  placement.before = element.choice("before", befores);
  placement.place = element.place();
  return placement;
}

// 10^digits for at most 19 digits.
std::uint64_t power_of_ten(std::uint32_t digits) {
  std::uint64_t power = 1;
  for (std::uint32_t i = 0; i < digits; ++i) {
    power *= 10;
  }
  return power;
}

// False, with an error, when the last number can't be named at all.
bool check_last(const xml::Element& element, const Scheme& scheme) {
  const std::uint64_t span = scheme.step * (scheme.capacity - 1); // below 10^18: both are limited
  if (span <= max_number && scheme.first <= max_number - span) {
    return true;
  }
  element.refuse("capacity", "the last number is too large",
                 xml::joined({std::to_string(scheme.first), " + ", std::to_string(span)}),
                 xml::joined({"at most ", std::to_string(max_number)}), "lower first or capacity");
  return false;
}

void check_number(const xml::Element& element, const Scheme& scheme) {
  const auto is_number = [](const Part& part) { return part.kind == PartKind::number; };
  const auto numbers = std::count_if(scheme.parts.begin(), scheme.parts.end(), is_number);
  if (numbers != 1) {
    element.refuse({}, "a serial text has a wrong number of numbers", std::to_string(numbers),
                   "exactly one <number>", "without one, every unit would get the same text");
    return;
  }
  const Part& number = *std::find_if(scheme.parts.begin(), scheme.parts.end(), is_number);
  const std::uint64_t limit = power_of_ten(number.width);
  if (scheme.last() >= limit) {
    element.refuse("capacity", "the last number does not fit its width",
                   std::to_string(scheme.last()),
                   xml::joined({"at most ", std::to_string(limit - 1), ", ",
                                std::to_string(number.width), " digits"}),
                   "lower capacity, or widen <number>");
  }
}

void check_length(const xml::Element& element, const Scheme& scheme, const Placement& placement) {
  if (placement.encoding == Encoding::ascii) {
    if (placement.length != scheme.text_length()) {
      element.refuse("length", "the placement's length is not the serial text's",
                     std::to_string(placement.length), std::to_string(scheme.text_length()),
                     "count the characters of all parts");
    }
    return;
  }
  const std::uint32_t bits = 8 * placement.length;
  if (bits > 64) {
    element.refuse("length", "a number has at most 8 bytes", std::to_string(placement.length),
                   "1 to 8", "choose the length that the firmware reads");
  } else if (bits < 64 && (scheme.last() >> bits) != 0) {
    element.refuse("length", "the last number does not fit the placement",
                   xml::joined({std::to_string(scheme.last()), " in ",
                                std::to_string(placement.length), " bytes"}),
                   xml::joined({"at most ", std::to_string((std::uint64_t{1} << bits) - 1)}),
                   "lower capacity, or lengthen the placement");
  }
}

void check_place(const xml::Element& element, const Scheme& scheme, std::size_t index) {
  const Placement& placement = scheme.placements[index];
  const std::uint64_t end = std::uint64_t{placement.address} + placement.length;
  if (end > 0x1'0000'0000) {
    element.refuse("length", "the placement passes the last address of 32 bits",
                   std::to_string(end), "an end of at most 4294967296", "correct the address");
  }
  for (std::size_t i = 0; i < index; ++i) {
    const Placement& other = scheme.placements[i];
    if (other.address < end && placement.address < std::uint64_t{other.address} + other.length) {
      element.refuse("address", "two placements share addresses",
                     std::string(element.raw("address")),
                     xml::joined({"addresses outside of the placement in line ",
                                  std::to_string(other.place.line)}),
                     "move one of the two");
    }
  }
}

} // namespace

std::uint32_t Scheme::text_length() const {
  std::uint32_t length = 0;
  for (const Part& part : parts) {
    length +=
        part.kind == PartKind::literal ? static_cast<std::uint32_t>(part.text.size()) : part.width;
  }
  return length;
}

Scheme read_scheme(const xml::Element& element) {
  Scheme scheme;
  scheme.id = element.id("scheme", 16);
  scheme.first = element.uint64("first", 0, max_number);
  scheme.step = element.uint64("step", 1, max_step);
  scheme.capacity = element.uint64("capacity", 1, max_capacity);
  scheme.place = element.place();
  bool sound = element.sound();
  for (const xml::Element& one : element.any_of({"literal", "number"}, 1, 8)) {
    scheme.parts.push_back(read_part(one));
    sound = sound && one.sound();
  }
  const std::vector<xml::Element> places = element.many("place", 1, 8);
  for (const xml::Element& one : places) {
    scheme.placements.push_back(read_placement(one));
  }
  sound = sound && element.sound() && check_last(element, scheme);
  if (sound) {
    check_number(element, scheme);
  }
  if (sound && scheme.text_length() > max_text) {
    element.refuse({}, "the serial text is too long", std::to_string(scheme.text_length()),
                   xml::joined({"at most ", std::to_string(max_text)}), "shorten a part");
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
