#include "serial/read_place.h"

#include "xml/join.h"

namespace cardseal::serial {
namespace {

using format::Encoding;

template <class Text>
Text text_from(const std::string& value) {
  Text out;
  out.set(value); // the reader allows no more than fits
  return out;
}

// All parts, unless the place names some.
format::PartSpan read_span(const xml::Element& element, std::size_t count) {
  const auto last = static_cast<std::uint8_t>(count == 0 ? 1 : count);
  format::PartSpan span{1, last};
  if (element.has("first-part")) {
    span.first = static_cast<std::uint8_t>(element.uint("first-part", 1, last));
    span.last = static_cast<std::uint8_t>(element.uint("last-part", span.first, last));
  }
  return span;
}

std::string units(std::size_t length, const format::Placement& placement) {
  return xml::joined(
      {std::to_string(length), placement.second_byte.present ? " words of two" : ""});
}

void check_number_length(const xml::Element& element, const Scheme& scheme, std::size_t room) {
  const std::size_t bits = 8 * room;
  if (bits > 64) {
    element.refuse("length", "a number has at most 8 bytes", std::to_string(room), "1 to 8",
                   "choose the length that the firmware reads");
  } else if (bits < 64 && (scheme.last >> bits) != 0) {
    element.refuse("length", "the last number does not fit the placement",
                   xml::joined({std::to_string(scheme.last), " in ", std::to_string(room),
                                room == 1 ? " byte" : " bytes"}),
                   xml::joined({"at most ", std::to_string((std::uint64_t{1} << bits) - 1)}),
                   "lower capacity, or lengthen the placement");
  }
}

void check_text_length(const xml::Element& element, const Scheme& scheme,
                       const Placement& placement, std::size_t room) {
  const std::size_t characters = format::text_length(scheme.parts.view(), placement.parts.value);
  const std::size_t length = format::encoded_length(placement.encoding, characters);
  if (length == 0) {
    element.refuse("encoding", "packed digits come in pairs", std::to_string(characters),
                   "an even number of characters", "widen <number>, or name other parts");
  } else if (placement.padding.present && length >= room) {
    element.refuse("padding", "there is nothing to pad",
                   xml::joined({std::to_string(length), " of ", units(room, placement)}),
                   "a text shorter than its place", "leave padding out, or lengthen the place");
  } else if (!placement.padding.present && length != room) {
    element.refuse("length", "the placement's length is not the serial text's",
                   units(room, placement), std::to_string(length),
                   "count the characters of all parts, or state padding");
  } else if (!format::placement_good(placement, scheme.parts.view(), scheme.alphabet, scheme.crc)) {
    element.refuse("encoding", "packed characters are not all hex digits",
                   std::string(element.raw("encoding")), "parts of 0 to 9 and A to F alone",
                   "name the parts to place, or use ascii");
  }
}

} // namespace

Placement read_place(const xml::Element& element, std::size_t count) {
  Placement placement;
  placement.region = text_from<format::Id>(element.id("region", 16));
  placement.address = element.hex("address", 0, 0xFFFF'FFFF);
  placement.encoding = element.choice<Encoding>("encoding", format::encoding_words);
  placement.length = static_cast<std::uint8_t>(element.uint("length", 1, 128));
  if (!format::is_binary(placement.encoding)) {
    placement.parts.set(read_span(element, count));
    if (element.has("padding")) {
      placement.padding.set(static_cast<std::uint8_t>(element.hex("padding", 0, 0xFF)));
    }
  }
  if (element.has("second-byte")) {
    placement.second_byte.set(static_cast<std::uint8_t>(element.hex("second-byte", 0, 0xFF)));
  }
  placement.crc =
      element.has("crc") && element.yes_no("crc") ? format::YesNo::yes : format::YesNo::no;
  placement.before = element.choice<format::Before>("before", format::before_words);
  placement.place = element.place();
  return placement;
}

void check_length(const xml::Element& element, const Scheme& scheme, const Placement& placement) {
  std::size_t room = placement.length;
  if (placement.second_byte.present && room % 2 != 0) {
    element.refuse("length", "words of two bytes", std::to_string(room), "an even length",
                   "count two bytes a character");
    return;
  }
  room = placement.second_byte.present ? room / 2 : room;
  if (format::is_yes(placement.crc)) {
    const std::size_t size = format::crc_size(scheme.crc);
    if (size == 0) {
      element.refuse("crc", "the scheme states no CRC", "yes", "a <crc> before the places",
                     "add it, or leave crc out");
      return;
    }
    if (size >= room) {
      element.refuse("length", "the placement has no room besides its CRC", std::to_string(room),
                     xml::joined({"at least ", std::to_string(size + 1)}), "lengthen it");
      return;
    }
    room -= size;
  }
  if (format::is_binary(placement.encoding)) {
    check_number_length(element, scheme, room);
  } else {
    check_text_length(element, scheme, placement, room);
  }
}

} // namespace cardseal::serial
