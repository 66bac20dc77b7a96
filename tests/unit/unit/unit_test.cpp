// One unit's serial, against a plain computation with standard strings, and back.
#include <algorithm>
#include <cstdio>
#include <cstring>
#include <string>
#include <vector>

#include "support/catch.h"
#include "unit/check.h"
#include "unit/unit.h"

using namespace cardseal;
using namespace cardseal::unit;

namespace {

struct Maker {
  Maker(std::uint64_t first, std::uint64_t step, std::uint64_t capacity, std::uint8_t width) {
    scheme.first = first;
    scheme.step = step;
    scheme.capacity = capacity;
    format::Text<16> prefix;
    prefix.set("FN-");
    parts[0].literal.set(prefix);
    parts[1].index = 2;
    parts[1].kind = format::PartKind::number;
    parts[1].base.set(10);
    parts[1].width.set(width);
  }
  Serials serials() const { return {scheme, alphabet, crc, excluded, parts}; }

  format::Scheme scheme;
  format::Maybe<format::Alphabet> alphabet;
  format::Maybe<format::SerialCrc> crc;
  std::vector<format::ExcludedRange> excluded;
  std::array<format::Part, 2> parts;
};

format::Placement placed(format::Encoding encoding, std::uint8_t length) {
  format::Placement placement;
  placement.encoding = encoding;
  placement.length = length;
  if (!format::is_binary(encoding)) {
    placement.parts.set({1, 2});
  }
  return placement;
}

// What printf makes of the same number (C17 7.21.6.1).
std::string expected_text(std::uint64_t number, int width) {
  std::array<char, 40> out{};
  std::snprintf(out.data(), out.size(), "FN-%0*llu", width,
                static_cast<unsigned long long>(number));
  return out.data();
}

std::string little_endian(std::uint64_t number, std::size_t length) {
  std::string out;
  for (std::size_t i = 0; i < length; ++i) {
    out += static_cast<char>(number >> (8 * i) & 0xFF);
  }
  return out;
}

std::string text_at(const Serials& serials, std::uint64_t ordinal) {
  UnitText text;
  const Outcome outcome = text_of(serials, ordinal, text);
  return outcome.ok() ? std::string(text.view()) : "fault " + std::to_string(int(outcome.fault));
}

std::string bytes_at(const Serials& serials, const format::Placement& placement,
                     std::uint64_t ordinal) {
  UnitBytes bytes;
  const Outcome outcome = bytes_of(serials, placement, ordinal, bytes);
  return outcome.ok() ? std::string(cardseal::text_of(bytes.view()))
                      : "fault " + std::to_string(int(outcome.fault));
}

} // namespace

TEST_CASE("number, text and bytes are what a plain computation gives, and lead back") {
  const format::Placement ascii = placed(format::Encoding::ascii, 9);
  const format::Placement little = placed(format::Encoding::binary_le, 4);
  const format::Placement big = placed(format::Encoding::binary_be, 4);
  for (const auto& [first, step] : {std::pair{0ULL, 1ULL}, {7ULL, 3ULL}, {99'000ULL, 10ULL}}) {
    const Maker maker(first, step, 90'000, 6);
    for (std::uint64_t n = 0; n < 90'000; n += n < 300 || (n > 9'900 && n < 10'100) ? 1 : 331) {
      const std::uint64_t plain = first + step * n;
      const std::string text = expected_text(plain, 6);
      std::string swapped = little_endian(plain, 4);
      std::reverse(swapped.begin(), swapped.end());
      std::uint64_t back[4] = {};
      const bool same =
          text_at(maker.serials(), n) == text && bytes_at(maker.serials(), ascii, n) == text &&
          bytes_at(maker.serials(), little, n) == little_endian(plain, 4) &&
          bytes_at(maker.serials(), big, n) == swapped &&
          ordinal_of_text(maker.serials(), text, back[0]).ok() &&
          ordinal_of_bytes(maker.serials(), ascii, bytes_of(text), back[1]).ok() &&
          ordinal_of_bytes(maker.serials(), little, bytes_of(little_endian(plain, 4)), back[2])
              .ok() &&
          ordinal_of_bytes(maker.serials(), big, bytes_of(swapped), back[3]).ok() && back[0] == n &&
          back[1] == n && back[2] == n && back[3] == n;
      if (!same) {
        INFO("ordinal " << n << " of first " << first << " step " << step);
        REQUIRE(same);
      }
    }
  }
}

TEST_CASE("digits grow to their width and no further", "[check-391]") {
  const Maker maker(0, 1, 1'000'000'000'000, 3);
  CHECK(text_at(maker.serials(), 9) == "FN-009");
  CHECK(text_at(maker.serials(), 10) == "FN-010");
  CHECK(text_at(maker.serials(), 99) == "FN-099");
  CHECK(text_at(maker.serials(), 999) == "FN-999");
  CHECK(text_at(maker.serials(), 1000) == "fault 391");
  const Maker wide(9'999'999'999'999'999'998ULL, 1, 5, 19);
  CHECK(text_at(wide.serials(), 1) == "FN-9999999999999999999");
  CHECK(text_at(wide.serials(), 2) == "fault 391"); // past 19 digits
}

TEST_CASE("an ordinal at the end of the capacity is refused", "[check-391]") {
  const Maker maker(5, 2, 100, 6);
  CHECK(text_at(maker.serials(), 99) == "FN-000203");
  CHECK(text_at(maker.serials(), 100) == "fault 391");
  std::uint64_t ordinal = 0;
  CHECK(ordinal_of_text(maker.serials(), "FN-000205", ordinal).fault == Fault::allotment_capacity);
  const Maker overflowing(9'999'999'999'999'999'999ULL, 999'999, 1'000'000'000'000, 19);
  CHECK(text_at(overflowing.serials(), 999'999'999'999) == "fault 391");
}

TEST_CASE("a number that outgrows its bytes is refused", "[check-391]") {
  const Maker maker(0, 1, 1'000'000, 6);
  const format::Placement one = placed(format::Encoding::binary_le, 1);
  CHECK(bytes_at(maker.serials(), one, 255) == "\xFF");
  CHECK(bytes_at(maker.serials(), one, 256) == "fault 391");
  const Maker full(0xFFFF'FFFF'FFFF'0000ULL / 2, 1, 10, 19);
  const format::Placement eight = placed(format::Encoding::binary_be, 8);
  CHECK(bytes_at(full.serials(), eight, 1) == std::string("\x7F\xFF\xFF\xFF\xFF\xFF\x80\x01", 8));
}

TEST_CASE("text and bytes that no unit has are not taken for one") {
  const Maker maker(7, 3, 100, 6);
  std::uint64_t ordinal = 77;
  for (const char* bad :
       {"", "FN-", "FN-00007", "FN-0000007", "FN-000008", "FN-000004", "fn-000007", "FN-00000a",
        "FN-000007 ", " FN-000007", "FN_000007", "000007"}) {
    INFO(bad);
    CHECK(ordinal_of_text(maker.serials(), bad, ordinal).fault == Fault::text_form);
    CHECK(ordinal == 77);
  }
  CHECK(ordinal_of_text(maker.serials(), "FN-000007", ordinal).ok());
  CHECK(ordinal == 0);
  const format::Placement little = placed(format::Encoding::binary_le, 2);
  const std::array<std::uint8_t, 3> bytes{10, 0, 0};
  CHECK(ordinal_of_bytes(maker.serials(), little, bytes, ordinal).fault == Fault::text_form);
  CHECK(ordinal_of_bytes(maker.serials(), little, ByteView(bytes).first(2), ordinal).ok());
  CHECK(ordinal == 1);
}

TEST_CASE("a number that stands twice in a text must stand there alike") {
  Maker maker(0, 1, 1000, 3);
  std::array<format::Part, 3> parts{maker.parts[1], maker.parts[0], maker.parts[1]};
  const Serials serials{maker.scheme, maker.alphabet, maker.crc, {}, parts};
  CHECK(text_at(serials, 42) == "042FN-042");
  std::uint64_t ordinal = 0;
  CHECK(ordinal_of_text(serials, "042FN-042", ordinal).ok());
  CHECK(ordinal == 42);
  CHECK(ordinal_of_text(serials, "042FN-043", ordinal).fault == Fault::text_form);
}

TEST_CASE("a placement that its scheme can't fill is refused", "[check-371]") {
  const Maker maker(0, 1, 1000, 6);
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::ascii, 8), 1) == "fault 371");
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::ascii, 10), 1) == "fault 371");
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::binary_be, 9), 1) == "fault 371");
  std::array<format::Part, 8> long_parts;
  for (format::Part& part : long_parts) {
    part = maker.parts[1];
    part.width.set(19);
  }
  CHECK(text_at({maker.scheme, maker.alphabet, maker.crc, {}, long_parts}, 1) ==
        "fault 371"); // 152 characters
}

// The next serial as a counter of wheels makes it: no division, no formula.
class Wheels {
public:
  explicit Wheels(std::string text) : text_(std::move(text)) {}
  const std::string& text() const { return text_; }
  void turn() {
    for (std::size_t at = text_.size(); text_[--at]++ == '9';) {
      text_[at] = '0';
    }
  }

private:
  std::string text_;
};

TEST_CASE("ten million units in a row carry what wheels that count up show") {
#ifdef CARDSEAL_SANITIZED
  constexpr std::uint32_t count = 200'000; // instrumented code is slow, and finds as much
#else
  constexpr std::uint32_t count = 10'000'000;
#endif
  const Maker maker(0, 1, count, 8);
  const format::Placement ascii = placed(format::Encoding::ascii, 11);
  const format::Placement little = placed(format::Encoding::binary_le, 3);
  Wheels wheels("FN-00000000");
  UnitBytes bytes;
  std::uint32_t first_wrong = count;
  for (std::uint32_t n = 0; n < count && first_wrong == count; ++n) {
    const bool text = bytes_of(maker.serials(), ascii, n, bytes).ok() && bytes.size == 11 &&
                      std::memcmp(bytes.bytes.data(), wheels.text().data(), 11) == 0;
    const std::uint8_t plain[] = {static_cast<std::uint8_t>(n), static_cast<std::uint8_t>(n >> 8),
                                  static_cast<std::uint8_t>(n >> 16)};
    const bool number = bytes_of(maker.serials(), little, n, bytes).ok() && bytes.size == 3 &&
                        std::memcmp(bytes.bytes.data(), plain, 3) == 0;
    if (!text || !number) {
      first_wrong = n;
    }
    wheels.turn();
  }
  CHECK(first_wrong == count);
}

TEST_CASE("excluded numbers are passed over, and no unit has one") {
  Maker maker(7, 3, 400, 6);
  maker.excluded = {{0, 6}, {8, 9}, {10, 13}, {100, 100}, {103, 160}, {900, 1200}, {99999, 99999}};
  std::uint64_t plain = 7;
  for (std::uint64_t n = 0; n < 400; ++n, plain += 3) {
    const auto is_out = [&plain](const format::ExcludedRange& r) {
      return r.first <= plain && plain <= r.last;
    };
    for (; std::any_of(maker.excluded.begin(), maker.excluded.end(), is_out); plain += 3) {
      std::uint64_t none = 0;
      CHECK(ordinal_of_number(maker.serials(), plain, none).fault == Fault::text_form);
    }
    std::uint64_t number = 0;
    std::uint64_t back = 0;
    REQUIRE(number_of(maker.serials(), n, number).ok());
    REQUIRE(number == plain);
    REQUIRE(ordinal_of_number(maker.serials(), number, back).ok());
    REQUIRE(back == n);
  }
}

TEST_CASE("all numbers up to the largest may be excluded without wrapping") {
  Maker maker(1, 1, 1'000'000'000'000, 19);
  maker.excluded = {{2, format::max_serial_number - 1}};
  std::uint64_t number = 0;
  CHECK(number_of(maker.serials(), 0, number).ok());
  CHECK(number == 1);
  CHECK(number_of(maker.serials(), 1, number).ok());
  CHECK(number == format::max_serial_number);
  CHECK(number_of(maker.serials(), 2, number).fault == Fault::allotment_capacity);
  CHECK(number_of(maker.serials(), 999'999'999'999, number).fault == Fault::allotment_capacity);
}

namespace {

format::Part check_part(std::uint8_t index, format::CheckKind kind, std::uint8_t from) {
  format::Part part;
  part.index = index;
  part.kind = format::PartKind::check;
  part.check.set({kind, from});
  return part;
}

std::string hex_at(const Serials& serials, const format::Placement& placement, std::uint64_t n) {
  UnitBytes bytes;
  REQUIRE(bytes_of(serials, placement, n, bytes).ok());
  std::uint64_t back = 0;
  REQUIRE(ordinal_of_bytes(serials, placement, bytes.view(), back).ok());
  CHECK(back == n);
  std::string out;
  for (const std::uint8_t byte : bytes.view()) {
    out += "0123456789abcdef"[byte >> 4];
    out += "0123456789abcdef"[byte & 15];
  }
  for (std::size_t at = 0; at < bytes.size; ++at) { // any other byte is no unit, or another unit
    bytes.bytes[at] ^= 0x40;
    back = n;
    CHECK((!ordinal_of_bytes(serials, placement, bytes.view(), back).ok() || back != n));
    bytes.bytes[at] ^= 0x40;
  }
  return out;
}

} // namespace

// Bytes written out by hand; the CRC's check value is that of the catalogue: 31c3 over 123456789.
TEST_CASE("every encoding and addition makes the bytes that its words say") {
  Maker maker(123'456'789, 1, 10, 9);
  maker.crc.set({});
  maker.crc.value.model.set("CRC-16/XMODEM");
  format::Placement digits = placed(format::Encoding::ascii, 11);
  digits.parts.set({2, 2});
  digits.crc = format::YesNo::yes;
  CHECK(hex_at(maker.serials(), digits, 0) == "31323334353637383931c3");
  maker.crc.value.order = format::ByteOrder::low_first;
  CHECK(hex_at(maker.serials(), digits, 0) == "313233343536373839c331");
  digits.second_byte.set(0x34);
  digits.length = 22;
  CHECK(hex_at(maker.serials(), digits, 0) == "313432343334343435343634373438343934c3343134");
  format::Placement wide = placed(format::Encoding::utf_16le, 26);
  wide.padding.set(0xFF);
  CHECK(hex_at(maker.serials(), wide, 0) == "46004e002d003100320033003400350036003700380039"
                                            "00ffff");

  Maker even(1234, 1, 10, 6);
  format::Placement packed = placed(format::Encoding::packed_be, 3);
  packed.parts.set({2, 2});
  CHECK(hex_at(even.serials(), packed, 0) == "001234");
  packed.encoding = format::Encoding::packed_le;
  CHECK(hex_at(even.serials(), packed, 0) == "341200");
  CHECK(hex_at(even.serials(), placed(format::Encoding::binary_be, 3), 0) == "0004d2");
}

TEST_CASE("an EUI-48 stands in memory as its block and its number, in either order") {
  Maker maker(0xABC, 1, 100, 6);
  maker.parts[0].literal.value.set("70B3D5");
  maker.parts[1].base.set(16);
  format::Placement packed = placed(format::Encoding::packed_be, 6);
  CHECK(text_at(maker.serials(), 1) == "70B3D5000ABD");
  CHECK(hex_at(maker.serials(), packed, 1) == "70b3d5000abd");
  packed.encoding = format::Encoding::packed_le;
  CHECK(hex_at(maker.serials(), packed, 1) == "bd0a00d5b370");
}

TEST_CASE("an alphabet's digits carry at its length") {
  Maker maker(0, 1, 1'000'000, 3);
  maker.alphabet.set({});
  maker.alphabet.value.set("23456789ABCDEFGHJKLMNPQRSTUVWXZ"); // 31: 0, 1, I, O, Y left out
  maker.parts[1].base.set(31);
  CHECK(text_at(maker.serials(), 0) == "FN-222");
  CHECK(text_at(maker.serials(), 30) == "FN-22Z");
  CHECK(text_at(maker.serials(), 31) == "FN-232");
  CHECK(text_at(maker.serials(), 31 * 31 * 31 - 1) == "FN-ZZZ");
  CHECK(text_at(maker.serials(), 31 * 31 * 31) == "fault 391");
  std::uint64_t back = 0;
  CHECK(ordinal_of_text(maker.serials(), "FN-232", back).ok());
  CHECK(back == 31);
  CHECK(ordinal_of_text(maker.serials(), "FN-231", back).fault == Fault::text_form);
}

TEST_CASE("date code and class come from the allotment, and the check covers them", "[check-397]") {
  const Maker maker(1, 1, 1000, 4);
  std::array<format::Part, 4> parts;
  parts[0].kind = format::PartKind::date_code;
  parts[0].width.set(4);
  parts[1].kind = format::PartKind::work_class;
  parts[1].literal.set({});
  parts[1].literal.value.set("12345");
  parts[2] = maker.parts[1];
  parts[3] = check_part(4, format::CheckKind::damm, 1);
  Serials serials{maker.scheme, maker.alphabet, maker.crc, {}, parts};
  CHECK(text_at(serials, 0) == "fault 397"); // nobody says which
  format::Allotment allotment;
  serials.allotment = &allotment;
  CHECK(text_at(serials, 0) == "fault 397");
  allotment.date_code.set({});
  allotment.date_code.value.set("2701");
  std::array<char, 2> check{};
  REQUIRE(check_characters(format::CheckKind::damm, "270130001", check));
  CHECK(text_at(serials, 0) == std::string("270130001") + check[0]);
  for (const char* bad : {"271", "27011", "27W1"}) { // the last: no digits for damm
    allotment.date_code.value.set(bad);
    CHECK(text_at(serials, 0) == "fault 397");
  }
  std::uint64_t back = 0;
  serials.allotment = nullptr; // date code and class as the text has them
  CHECK(ordinal_of_text(serials, std::string("270130001") + check[0], back).ok());
  CHECK(back == 0);
  CHECK(ordinal_of_text(serials, std::string("270110001") + check[0], back).fault ==
        Fault::text_form);
  CHECK(ordinal_of_text(serials, std::string("270190001") + check[0], back).fault ==
        Fault::text_form);
}
