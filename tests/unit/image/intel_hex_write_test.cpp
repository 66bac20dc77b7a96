// Form: Intel Hexadecimal Object File Format Specification, revision A, 1988.
#include "image/intel_hex.h"

#include <random>

#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

std::string written(const SparseImage& image, const HexWriteOptions& options = {}) {
  const auto bytes = write_intel_hex(image, options);
  return bytes ? std::string(text_of(*bytes)) : spell(bytes.error());
}

} // namespace

TEST_CASE("the writer gives one text: records of 16, a base record where the upper half changes") {
  Bytes twenty(20);
  std::iota(twenty.begin(), twenty.end(), std::uint8_t{0});
  const SparseImage image =
      make_image({{0, twenty}, {0xFFFE, {1, 2, 3}}, {0x08000000, {0xAA}}, {0x08000002, {0xBB}}});
  // Checksums worked out by hand from the record's bytes.
  CHECK(written(image) == ":10000000000102030405060708090A0B0C0D0E0F78\n"
                          ":0400100010111213A6\n"
                          ":02FFFE000102FE\n"
                          ":020000040001F9\n"
                          ":0100000003FC\n"
                          ":020000040800F2\n"
                          ":01000000AA55\n"
                          ":01000200BB42\n"
                          ":00000001FF\n");
}

TEST_CASE("line end, record length and start address are as asked") {
  const SparseImage image = make_image({{0, {1, 2, 3}}});
  HexWriteOptions options;
  options.record_length = 2;
  options.line_end = LineEnd::crlf;
  options.start = StartAddress{StartKind::linear, 0x08000101, 0};
  CHECK(written(image, options) == ":020000000102FB\r\n:0100020003FA\r\n"
                                   ":0400000508000101ED\r\n:00000001FF\r\n");
  options.start = StartAddress{StartKind::segmented, 0x12345678, 0};
  CHECK_THAT(written(image, options), ContainsSubstring(":0400000312345678E5\r\n"));
  options.start = StartAddress{StartKind::end_record, 0x1234, 0};
  CHECK_THAT(written(image, options), ContainsSubstring(":00123401B9\r\n"));
}

TEST_CASE("what Intel HEX can't hold is refused by the writer") {
  HexWriteOptions options;
  for (const std::uint32_t length : {0U, 256U}) {
    options.record_length = length;
    CHECK(written(make_image({{0, {1}}}), options) ==
          std::string("hex-record-length 0:0 ") + std::to_string(length) + "|1 to 255 bytes");
  }
  CHECK(written(make_image({{0xFFFFFFFF, {1, 2}}})) ==
        "hex-past-4g 0:0 last byte at 0x100000000|0xFFFFFFFF at most");
  CHECK_THAT(written(make_image({{0xFFFFFFFF, {1}}})), ContainsSubstring(":01FFFF000100\n"));
  options = {};
  options.start = StartAddress{StartKind::end_record, 0x10000, 0};
  CHECK(written(make_image({{0, {1}}}), options) == "hex-start-wide 0:0 0x10000|0xFFFF at most");
}

TEST_CASE("what was written reads back to the same image at every record length") {
  std::mt19937 random = fixed_random(20240501);
  for (const std::uint32_t length : {1U, 2U, 15U, 16U, 17U, 32U, 64U, 128U, 254U, 255U}) {
    for (const std::uint64_t address :
         {0x0ULL, 0xFF01ULL, 0x1FFF7ULL, 0x0800FFFFULL, 0xFFFEFFF0ULL}) {
      Bytes bytes(600);
      for (std::uint8_t& byte : bytes) {
        byte = static_cast<std::uint8_t>(random());
      }
      const SparseImage image = make_image({{address, bytes}, {address + 1000, {0xFF}}});
      HexWriteOptions options;
      options.record_length = length;
      options.line_end = length % 2 == 0 ? LineEnd::lf : LineEnd::crlf;
      options.start = StartAddress{StartKind::linear, 0x1234, 0};
      INFO(length << " bytes a record at " << address);
      const Try<Firmware> back = read(written(image, options));
      REQUIRE(verdict(back) == "accepted");
      CHECK(back->image.digest() == image.digest());
      CHECK(back->image.segments() == image.segments());
      CHECK(back->notes.all().empty());
      CHECK(back->start->value == 0x1234);
      CHECK(written(back->image, options) == written(image, options));
    }
  }
}
