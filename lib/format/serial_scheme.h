// The part of a manifest that says what serial each unit gets: the scheme of numbers, the parts of
// the serial's text, and the placements of its bytes. lib/unit derives a unit's serial from these.
#pragma once

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::format {

struct Scheme { // number = first + step * n, n counting what is not excluded; capacity ordinals
  Id id;
  std::uint64_t first = 0;
  std::uint64_t step = 1;
  std::uint64_t capacity = 1;
};

struct ExcludedRange { // numbers that no unit gets
  std::uint64_t first = 0;
  std::uint64_t last = 0;
};

using Alphabet = Text<36>; // the digits of the number, that of 0 first

enum class PartKind : std::uint8_t { literal, number, date_code, work_class, check };
inline constexpr std::array<std::string_view, 5> part_kind_words{"literal", "number", "date-code",
                                                                 "class", "check"};

enum class CheckKind : std::uint8_t {
  luhn,      // ISO/IEC 7812-1
  mod_11_2,  // this and the next four: ISO/IEC 7064
  mod_37_2,  //
  mod_97_10, // two characters
  mod_11_10, // the standard's "MOD 11,10"
  mod_37_36, // the standard's "MOD 37,36"
  gs1_mod_10,
  damm,
  verhoeff
};
inline constexpr std::array<std::string_view, 9> check_kind_words{
    "luhn",      "mod-11-2",   "mod-37-2", "mod-97-10", "mod-11-10",
    "mod-37-36", "gs1-mod-10", "damm",     "verhoeff"};

struct Check {
  CheckKind kind = CheckKind::luhn;
  std::uint8_t from = 1; // covers this part to the one before its own
};

struct Part { // of the serial's text, in order
  std::uint8_t index = 1;
  PartKind kind = PartKind::literal;
  Maybe<Text<16>> literal;  // literal: the text; class: a character a class, in their order
  Maybe<std::uint8_t> base; // number: digits used of the alphabet
  Maybe<std::uint8_t>
      width;          // number: digits, filled in front with that of 0; date-code: characters
  Maybe<Check> check; // check
};

enum class Encoding : std::uint8_t { ascii, utf_16le, packed_be, packed_le, binary_be, binary_le };
inline constexpr std::array<std::string_view, 6> encoding_words{
    "ascii", "utf-16le", "packed-be", "packed-le", "binary-be", "binary-le"};

constexpr bool is_binary(Encoding encoding) {
  return encoding == Encoding::binary_be || encoding == Encoding::binary_le;
}

struct PartSpan { // places of parts, both included
  std::uint8_t first = 1;
  std::uint8_t last = 1;
};

enum class ByteOrder : std::uint8_t { high_first, low_first };
inline constexpr std::array<std::string_view, 2> byte_order_words{"be", "le"};

struct SerialCrc { // one for the scheme; a placement has it or not
  Text<32> model;  // see parse_crc in base/crc.h
  ByteOrder order = ByteOrder::high_first;
};

enum class Before : std::uint8_t { erased, placeholder };
inline constexpr std::array<std::string_view, 2> before_words{"erased", "placeholder"};

struct Placement {           // where a unit's serial stands in memory
  std::uint32_t address = 0; // byte address
  Id region;
  std::uint8_t length = 1;             // bytes of memory, everything counted
  Encoding encoding = Encoding::ascii; // of the number (binary) or of the parts' text (others)
  Maybe<PartSpan> parts;               // none exactly when binary
  Maybe<std::uint8_t> padding;         // byte that fills the place behind the text
  Maybe<std::uint8_t> second_byte; // every byte above is followed by this one, making a word of two
  YesNo crc = YesNo::no;           // the scheme's CRC stands behind text and padding, over both
  Before before = Before::erased;  // what the firmware holds there
};

inline constexpr std::uint64_t max_serial_number = 9'999'999'999'999'999'999U; // 19 digits
inline constexpr std::string_view standard_digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

inline std::string_view digits_of(const Maybe<Alphabet>& alphabet) {
  return alphabet.present ? alphabet.value.view() : standard_digits;
}

constexpr std::size_t check_length(CheckKind kind) {
  return kind == CheckKind::mod_97_10 ? 2 : 1;
}

// May this character stand in what such a check covers? Digits; for 37-2 and 37,36 also A to Z.
constexpr bool covers(CheckKind kind, char c) {
  const bool letters = kind == CheckKind::mod_37_2 || kind == CheckKind::mod_37_36;
  return (c >= '0' && c <= '9') || (letters && c >= 'A' && c <= 'Z');
}

std::size_t part_length(const Part& part); // characters, the same for every unit
// Of the parts of `span`, which lie within `parts`.
std::size_t text_length(std::span<const Part> parts, PartSpan span);
// Every character that the part can give is one that `takes` takes; a date code is not known here.
bool part_gives(const Part& part, std::string_view digits, bool (*takes)(CheckKind, char),
                CheckKind kind);
// The alphabet's characters are distinct, it is not the standard one spelled out, and `parts` fit
// it, themselves and the checks among them.
bool excluded_good(std::span<const ExcludedRange> excluded); // rising, and none touches another
std::size_t crc_size(const Maybe<SerialCrc>& crc); // bytes; 0 for none, or one that is not known
bool alphabet_good(const Maybe<Alphabet>& alphabet);
bool part_good(std::span<const Part> parts, std::size_t at, const Maybe<Alphabet>& alphabet);
// The bytes of an encoding of so many characters; 0 when there is no such.
std::size_t encoded_length(Encoding encoding, std::size_t characters);
// Whether a placement's length is what its encoding and additions make, and the parts named are
// there and can be written so. Nothing is said of addresses.
bool placement_good(const Placement& placement, std::span<const Part> parts,
                    const Maybe<Alphabet>& alphabet, const Maybe<SerialCrc>& crc);
// A date code that fits every part of kind date-code and the checks that cover one; without such a
// part every date code fits, and none.
bool date_code_good(std::span<const Part> parts, const Maybe<Text<16>>& date_code);

template <class V>
void visit_scheme(V& v, Scheme& scheme) {
  v.id(scheme.id);
  v.uint(scheme.first, 0, max_serial_number);
  v.uint(scheme.step, 1, 999'999);
  v.uint(scheme.capacity, 1, 1'000'000'000'000);
}

template <class V>
void visit_part(V& v, Part& part) {
  v.uint(part.index, 1, 8);
  v.word(part.kind, part_kind_words);
  v.optional(part.literal.present, [&] { v.quoted(part.literal.value, Charset::display); });
  v.optional(part.base.present, [&] { v.uint(part.base.value, 2, 36); });
  v.optional(part.width.present, [&] { v.uint(part.width.value, 1, 19); });
  v.optional(part.check.present, [&] {
    v.word(part.check.value.kind, check_kind_words);
    v.uint(part.check.value.from, 1, 8);
  });
}

template <class V>
void visit_placement(V& v, Placement& placement) {
  v.id(placement.region);
  v.uint(placement.address, 0, 0xFFFF'FFFF);
  v.uint(placement.length, 1, 128);
  v.word(placement.encoding, encoding_words);
  v.optional(placement.parts.present, [&] {
    v.uint(placement.parts.value.first, 1, 8);
    v.uint(placement.parts.value.last, placement.parts.value.first, 8);
  });
  v.optional(placement.padding.present, [&] { v.hex(placement.padding.value, 2); });
  v.optional(placement.second_byte.present, [&] { v.hex(placement.second_byte.value, 2); });
  v.word(placement.crc, yes_no_words);
  v.word(placement.before, before_words);
}

// M has scheme, alphabet, serial_crc, excluded, parts and placements.
template <class V, class M>
void visit_serial(V& v, M& m) {
  line(v, "scheme",
       [&] { v.optional(m.scheme.present, [&] { visit_scheme(v, m.scheme.value); }); });
  line(v, "alphabet", [&] {
    v.optional(m.alphabet.present, [&] { v.quoted(m.alphabet.value, Charset::display); });
  });
  v.reference(alphabet_good(m.alphabet));
  line(v, "serial-crc", [&] {
    v.optional(m.serial_crc.present, [&] {
      v.quoted(m.serial_crc.value.model, Charset::display);
      v.word(m.serial_crc.value.order, byte_order_words);
    });
  });
  v.reference(!m.serial_crc.present || crc_size(m.serial_crc) != 0);
  lines(v, "excluded", "excluded-range", m.excluded, [&](ExcludedRange& range) {
    v.uint(range.first, 0, max_serial_number);
    v.uint(range.last, range.first, max_serial_number);
  });
  v.reference(excluded_good(m.excluded.view()));
  lines(
      v, "parts", "part", m.parts, [&](Part& part) { visit_part(v, part); }, 0, Order::first_field);
  std::size_t numbers = 0;
  for (std::uint16_t i = 0; i < m.parts.count; ++i) {
    v.reference(part_good(m.parts.view(), i, m.alphabet));
    numbers += m.parts.items[i].kind == PartKind::number ? 1 : 0;
  }
  lines(v, "placements", "placement", m.placements,
        [&](Placement& placement) { visit_placement(v, placement); });
  const std::size_t others = m.parts.count + m.placements.count + m.excluded.count;
  // One number, so that no two units get one text.
  v.reference(m.scheme.present ? numbers == 1
                               : others == 0 && !m.alphabet.present && !m.serial_crc.present);
  for (std::uint16_t i = 0; i < m.placements.count; ++i) {
    v.reference(m.placements.items[i].parts.present != is_binary(m.placements.items[i].encoding));
  }
}

} // namespace cardseal::format
