// One unit's serial, against a plain computation with standard strings, and back.
#include <algorithm>
#include <cstdio>
#include <string>

#include "support/catch.h"
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
  Serials serials() const { return {scheme, parts}; }

  format::Scheme scheme;
  std::array<format::Part, 2> parts;
};

format::Placement placed(format::Encoding encoding, std::uint8_t length) {
  format::Placement placement;
  placement.encoding = encoding;
  placement.length = length;
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
  const Serials serials{maker.scheme, parts};
  CHECK(text_at(serials, 42) == "042FN-042");
  std::uint64_t ordinal = 0;
  CHECK(ordinal_of_text(serials, "042FN-042", ordinal).ok());
  CHECK(ordinal == 42);
  CHECK(ordinal_of_text(serials, "042FN-043", ordinal).fault == Fault::text_form);
}

TEST_CASE("a placement that its scheme can't fill is refused", "[check-371]") {
  const Maker maker(0, 1, 1000, 6);
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::ascii, 8), 1) == "fault 371");
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::ascii, 65), 1) == "fault 371");
  CHECK(bytes_at(maker.serials(), placed(format::Encoding::binary_be, 9), 1) == "fault 371");
  std::array<format::Part, 8> long_parts;
  for (format::Part& part : long_parts) {
    part = maker.parts[1];
    part.width.set(19);
  }
  CHECK(text_at({maker.scheme, long_parts}, 1) == "fault 371"); // 152 characters
}
