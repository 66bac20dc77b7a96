#include "serial/read_parts.h"

#include "base/bytes.h"
#include "xml/join.h"

namespace cardseal::serial {
namespace {

using format::PartKind;

void add_part(const xml::Element& element, Scheme& scheme, format::Part& part) {
  part.index = static_cast<std::uint8_t>(scheme.parts.count + 1);
  if (!scheme.parts.add(part)) {
    element.refuse({}, "a serial text has too many parts", "more", "at most 8",
                   "join literals that follow each other");
  }
}

template <std::size_t N>
format::Text<N> text_from(const std::string& value) {
  format::Text<N> out;
  out.set(value); // the reader allows no more than fits
  return out;
}

void read_literal(const xml::Element& element, Scheme& scheme) {
  format::Part part;
  part.literal.set(text_from<16>(element.display("text", 1, 16)));
  add_part(element, scheme, part);
}

void check_alphabet(const xml::Element& element, const Scheme& scheme) {
  const std::string_view text = scheme.alphabet.value.view();
  if (!text.empty() && text == slice(format::standard_digits, 0, text.size())) {
    element.refuse("alphabet", "the alphabet is that of a base", std::string(text),
                   xml::joined({"base=\"", std::to_string(text.size()), "\""}),
                   "state the base instead");
  } else if (!format::alphabet_good(scheme.alphabet)) {
    element.refuse("alphabet", "the alphabet repeats a character", std::string(text),
                   "every character once", "each digit needs a character of its own");
  }
}

void read_number(const xml::Element& element, Scheme& scheme) {
  constexpr xml::Word<std::uint8_t> bases[] = {{"10", 10}, {"16", 16}, {"36", 36}};
  format::Part part;
  part.kind = PartKind::number;
  if (element.has("alphabet")) {
    scheme.alphabet.set(text_from<36>(element.display("alphabet", 2, 36)));
    part.base.set(scheme.alphabet.value.size);
    if (element.sound()) {
      check_alphabet(element, scheme);
    }
  } else {
    part.base.set(element.choice("base", bases));
  }
  part.width.set(static_cast<std::uint8_t>(element.uint("width", 1, 19)));
  add_part(element, scheme, part);
}

void read_date_code(const xml::Element& element, Scheme& scheme) {
  format::Part part;
  part.kind = PartKind::date_code;
  part.width.set(static_cast<std::uint8_t>(element.uint("width", 1, 16)));
  add_part(element, scheme, part);
}

void read_class(const xml::Element& element, Scheme& scheme) {
  std::string characters;
  for (const std::string_view name : format::work_class_words) {
    characters += element.display(name, 1, 1);
  }
  format::Part part;
  part.kind = PartKind::work_class;
  part.literal.set(text_from<16>(characters));
  add_part(element, scheme, part);
  if (element.sound() && !format::part_good(scheme.parts.view(), part.index - 1U, {})) {
    element.refuse({}, "two classes have the same character", characters, "five characters",
                   "give each class its own");
  }
}

void read_check(const xml::Element& element, Scheme& scheme) {
  format::Part part;
  part.kind = PartKind::check;
  part.check.set({element.choice<format::CheckKind>("kind", format::check_kind_words),
                  static_cast<std::uint8_t>(element.uint("from", 1, 8))});
  add_part(element, scheme, part);
  if (!element.sound()) {
    return;
  }
  const std::size_t at = part.index - 1U;
  if (part.check.value.from > at) {
    element.refuse("from", "a check covers parts before it", std::to_string(part.check.value.from),
                   at == 0 ? std::string("a part before it")
                           : xml::joined({"1 to ", std::to_string(at)}),
                   "number the parts from 1; <eui> counts as two");
  } else if (!format::part_good(scheme.parts.view(), at, scheme.alphabet)) {
    element.refuse("kind", "a covered part can give what this check does not know",
                   std::string(element.raw("kind")),
                   "digits; also A to Z for mod-37-2 and mod-37-36; no check among them",
                   "begin behind that part, or choose another kind");
  }
}

// An address of a single device: in the first byte the lowest bit is clear; one that was assigned:
// the next bit is clear too (IEEE Std 802, 8.2.2).
void check_block(const xml::Element& element, const std::string& block) {
  if (block.find_first_not_of("0123456789ABCDEF") != std::string::npos) {
    element.refuse("block", "a block is hex digits", block, "digits and A to F",
                   "copy it from the assignment");
  } else if ((std::string_view("13579BDF").find(block[1]) != std::string_view::npos)) {
    element.refuse("block", "a block of group addresses", block,
                   "an even second digit: addresses of single devices",
                   "copy it from the assignment");
  } else if (std::string_view("26AE").find(block[1]) != std::string_view::npos) {
    element.refuse("block", "a block of local addresses, which nobody assigns", block,
                   "a second digit of 0, 4, 8 or C",
                   "copy it from the assignment, or use <literal> and <number>");
  }
}

// The block that the registration authority assigned (24, 28 or 36 bits), then the number.
void read_eui(const xml::Element& element, Scheme& scheme) {
  constexpr xml::Word<std::size_t> sizes[] = {{"48", 12}, {"64", 16}};
  const std::size_t digits = element.choice("bits", sizes);
  const std::string block = element.display("block", 6, 9);
  if (!element.sound()) {
    return;
  }
  check_block(element, block);
  if (block.size() == 8) {
    element.refuse("block", "a block of 32 bits", block, "6, 7 or 9 digits: 24, 28 or 36 bits",
                   "copy it from the assignment");
  }
  format::Part part;
  part.literal.set(text_from<16>(block));
  add_part(element, scheme, part);
  format::Part number;
  number.kind = PartKind::number;
  number.base.set(16);
  number.width.set(static_cast<std::uint8_t>(digits - block.size()));
  add_part(element, scheme, number);
}

} // namespace

void read_excluded(const xml::Element& element, Scheme& scheme) {
  for (const xml::Element& one : element.many("exclude", 0, 8)) {
    const std::uint64_t first = one.uint64("first", 0, format::max_serial_number);
    const std::uint64_t last = one.uint64("last", first, format::max_serial_number);
    const bool room = scheme.excluded.add({first, last});
    if (room && one.sound() && !format::excluded_good(scheme.excluded.view())) {
      one.refuse(
          "first", "excluded numbers do not rise with a gap", std::to_string(first),
          xml::joined({"at least ",
                       std::to_string(scheme.excluded.items[scheme.excluded.count - 2U].last + 2)}),
          "put the ranges in order, and join those that touch");
    }
  }
}

void read_taken(const xml::Element& element, Scheme& scheme) {
  for (const xml::Element& one : element.many("taken-prefix", 0, 8)) {
    scheme.taken.push_back({one.display("text", 1, 16), one.text("by", 1, 40), one.place()});
  }
}

void read_crc(const xml::Element& element, Scheme& scheme) {
  const xml::Element one = element.maybe("crc");
  if (!one) {
    return;
  }
  const std::string name = one.display("model", 1, 32);
  scheme.crc.set(
      {text_from<32>(name), one.choice<format::ByteOrder>("order", format::byte_order_words)});
  if (!name.empty() && format::crc_size(scheme.crc) == 0) {
    one.refuse("model", "the CRC is not known", name,
               "a name of the CRC catalogue, or width/poly/init/r or n/xorout in hex digits",
               "16/1021/ffff/n/0000 for example; one that the catalogue names goes by its name");
  }
}

void read_part(const xml::Element& element, Scheme& scheme) {
  if (element.name() == "literal") {
    read_literal(element, scheme);
  } else if (element.name() == "number") {
    read_number(element, scheme);
  } else if (element.name() == "date-code") {
    read_date_code(element, scheme);
  } else if (element.name() == "class") {
    read_class(element, scheme);
  } else if (element.name() == "check") {
    read_check(element, scheme);
  } else {
    read_eui(element, scheme);
  }
}

} // namespace cardseal::serial
