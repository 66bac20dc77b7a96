#include <string>

#include "base/crc.h"
#include "base/fault.h"
#include "base/number.h"
#include "base/result.h"
#include "base/utf8.h"
#include "support/catch.h"

using namespace cardseal;

// CRC catalogue, reveng.sourceforge.io/crc-catalogue: every model's check value.
TEST_CASE("every crc model gives its catalogue check value") {
  for (const CrcModel& model : crc_models) {
    INFO(model.name);
    CHECK(crc(model, bytes_of("123456789")) == model.check);
    Crc split(model);
    split.update(bytes_of("1234"));
    split.update(bytes_of("56789"));
    CHECK(split.value() == model.check);
  }
  CHECK(find_crc("CCITT") == nullptr);
}

// Check values of CRC-8/SMBUS, CRC-16/DNP and CRC-24/OPENPGP: CRC catalogue, from memory.
TEST_CASE("a crc is named by the catalogue or by its parameters, in one spelling") {
  CrcModel model{};
  REQUIRE(parse_crc("CRC-16/MODBUS", model));
  CHECK(model.check == 0x4B37);
  REQUIRE(parse_crc("8/07/00/n/00", model));
  CHECK(crc(model, bytes_of("123456789")) == 0xF4);
  REQUIRE(parse_crc("16/3d65/0000/r/ffff", model));
  CHECK(model.name == "16/3d65/0000/r/ffff");
  CHECK(crc(model, bytes_of("123456789")) == 0xEA82);
  REQUIRE(parse_crc("24/864cfb/b704ce/n/000000", model));
  CHECK(crc(model, bytes_of("123456789")) == 0x21CF02);
  REQUIRE(parse_crc("32/04c11db7/00000000/r/ffffffff", model));
  for (const char* bad :
       {"", "CCITT", "16/8005/ffff/r/0000" /* CRC-16/MODBUS */, "16/3D65/0000/r/ffff",
        "16/3d65/0000/r", "16/3d65/0000/x/ffff", "16/3d65/0/r/ffff", "016/3d65/0000/r/ffff",
        "16/3d65/0000/r/ffff/", "12/80f/000/r/000", "/3d65/0000/r/ffff"}) {
    INFO(bad);
    CHECK_FALSE(parse_crc(bad, model));
  }
}

TEST_CASE("a number has one spelling") {
  std::uint64_t value = 0;
  CHECK(parse_uint("0", value));
  CHECK(parse_uint("9999999999999999999", value));
  CHECK(value == 9999999999999999999ULL);
  for (const char* bad :
       {"", "00", "01", "-1", "+1", " 1", "1 ", "12abc", "99999999999999999999"}) {
    INFO(bad);
    CHECK_FALSE(parse_uint(bad, value));
  }
  CHECK(parse_hex("00ff", value));
  CHECK(value == 255);
  CHECK_FALSE(parse_hex("00FF", value));
  CHECK_FALSE(parse_hex("0123456789abcdef0", value));
}

// Leap years: Gregorian rule, ISO 8601.
TEST_CASE("a time is a real date in one spelling") {
  Utc time;
  CHECK(parse_utc("2024-02-29T23:59:59Z", time));
  char spelled[utc_length];
  CHECK(spell_utc(time, spelled) == utc_length);
  CHECK(std::string(spelled, utc_length) == "2024-02-29T23:59:59Z");
  CHECK(parse_utc("2000-02-29T00:00:00Z", time));
  for (const char* bad : {"1900-02-29T00:00:00Z", "2023-02-29T00:00:00Z", "2024-13-01T00:00:00Z",
                          "2024-01-01T24:00:00Z", "2024-01-01T00:00:60Z", "2024-01-01 00:00:00Z",
                          "2024-01-01T00:00:00+", "2024-1-01T00:00:00Z", "2024-04-31T00:00:00Z"}) {
    INFO(bad);
    CHECK_FALSE(parse_utc(bad, time));
  }
}

// RFC 3629 section 4 (shortest form, surrogates, upper limit).
TEST_CASE("utf-8 is strict and harmful characters are known") {
  CHECK(is_utf8("\xC3\xA5 \xE2\x82\xAC \xF0\x9F\x8D\x8E"));
  for (const char* bad : {"\xC0\xAF", "\xE0\x80\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80",
                          "\xE2\x82", "\xFF"}) {
    CHECK_FALSE(is_utf8(bad));
  }
  for (const char32_t code : {U'\u202E', U'\u200B', U'\u2066', U'\uFEFF', U'\u0007', U'\u2028'}) {
    CHECK_FALSE(is_harmless(code));
  }
  CHECK(is_harmless(U'\u00E5'));
}

TEST_CASE("reasons are unique, ascending, and fit a 16-character display") {
  std::uint16_t last = 0;
  for (const FaultText& text : all_faults()) {
    INFO(text.display);
    CHECK(static_cast<std::uint16_t>(text.fault) > last);
    last = static_cast<std::uint16_t>(text.fault);
    CHECK(text.display.size() <= 16);
    CHECK_FALSE(text.sentence.empty());
    CHECK_FALSE(text.advice.empty());
    CHECK(fault_text(text.fault).display == text.display);
  }
}

TEST_CASE("a result holds its value or its error") {
  Result<std::string, int> good = std::string(100, 'x');
  Result<std::string, int> moved = std::move(good);
  REQUIRE(moved.has_value());
  CHECK(moved->size() == 100);
  moved = Unexpected(7);
  REQUIRE_FALSE(moved.has_value());
  CHECK(moved.error() == 7);
}
