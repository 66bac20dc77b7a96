// Expected values follow from Motorola M68000PM, Appendix C, unless a line says otherwise.
#include "image/srecord.h"

#include <algorithm>
#include <random>

#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

const std::string s9 = "S9030000FC\n";

Try<Firmware> read_s(const std::string& text, const SRecordReadOptions& options = {}) {
  return read_srecord(bytes_of(text), "in.s19", options);
}

// The notes of what is accepted, else the error.
std::string judged(const std::string& text, const SRecordReadOptions& options = {}) {
  const Try<Firmware> result = read_s(text, options);
  return result ? spell(result->notes) : spell(result.error());
}

std::string line(unsigned type, std::uint32_t address, const Bytes& data) {
  return s_record(type, address, data) + "\n";
}

const std::string good = line(1, 0x100, {1, 2, 3, 4});

std::string written(const SparseImage& image, const SRecordWriteOptions& options = {}) {
  const auto text = write_srecord(image, options);
  return text ? std::string(text_of(*text)) : spell(text.error());
}

} // namespace

// The manual's example of a file, whose bytes are an S0, four S1 and an S9 (M68000PM, C.4).
TEST_CASE("the manual's example is read") {
  const std::string example = "S00600004844521B\n"
                              "S1130000285F245F2212226A000424290008237C2A\n"
                              "S11300100002000800082629001853812341001813\n"
                              "S113002041E900084E42234300182342000824A952\n"
                              "S107003000144ED492\n"
                              "S9030000FC\n";
  const Try<Firmware> result = read_s(example);
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.segments() == std::vector<Segment>{{0, 0x34}});
  CHECK(result->image.at(0) == 0x28);
  CHECK(result->image.at(0x33) == 0xD4);
  CHECK(result->header == "HDR");
  CHECK_FALSE(result->start.has_value());
  CHECK(spell(result->notes).empty());
  CHECK(result->image.origin(0x21)->line == 4);
}

TEST_CASE("data of all three widths lies where its address says") {
  const Try<Firmware> result =
      read_s(line(1, 0xFFF0, {1, 2}) + line(2, 0xABCDEF, {3}) + line(3, 0xFFFFFFFE, {4, 5}) +
             line(5, 3, {}) + line(6, 3, {}) + line(7, 0x12345678, {}));
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.segments() ==
        std::vector<Segment>{{0xFFF0, 2}, {0xABCDEF, 1}, {0xFFFFFFFE, 2}});
  CHECK(result->start == StartAddress{StartKind::linear, 0x12345678, 6});
  CHECK(spell(result->notes).empty());
}

TEST_CASE("what is harmless is accepted and noted once with its count") {
  CHECK(judged("\xEF\xBB\xBF" + good + s9) == "byte-order-mark:1:1");
  CHECK(judged("\n" + good + " \t\n" + s9) == "blank-line:2:1");
  CHECK(judged(" " + s_record(1, 0, {1}) + "\n" + s_record(1, 1, {2}) + " \t\n" + s9) ==
        "space-around-record:2:1");
  CHECK(judged(good + s9 + "\x1A") == "trailing-1a:1:3");
  CHECK(judged(good + line(1, 0x104, {}) + line(2, 0, {}) + s9) == "empty-record:2:2 end-kind:1:4");
  CHECK(judged(line(1, 0x10, {1}) + line(1, 8, {2}) + line(1, 0, {3}) + s9) == "out-of-order:2:2");
  CHECK(judged(good + good + s9) == "same-bytes:4:2");
  CHECK(judged(line(3, 0, {1}) + s9) == "end-kind:1:2");
  CHECK(judged(line(1, 0, {1}) + line(7, 0, {})) == "end-kind:1:2");
  CHECK(judged(s9) == "no-data:1:0");
  CHECK(judged(line(7, 0, {})) == "no-data:1:0");
  CHECK(judged(line(0, 0, {'a'}) + good + line(0, 0, {'b'}) + s9) == "more-headers:1:3");
  CHECK(judged(good + line(5, 1, {}) + line(1, 0x104, {5}) + s9) == "data-after-count:1:3");
  CHECK(judged(good + s9 + "built on a Monday\n\nby ada\n") == "text-after-end:2:3 blank-line:1:4");
  // GNU binutils 2.40 and SRecord 1.64 go on above (measured).
  const Try<Firmware> past = read_s(line(1, 0xFFFF, {1, 2}) + s9);
  REQUIRE(verdict(past) == "accepted");
  CHECK(spell(past->notes) == "past-width:1:1");
  CHECK(past->image.segments() == std::vector<Segment>{{0xFFFF, 2}});
}

TEST_CASE("lower-case digits and every line end are accepted without a note") {
  std::string lower = s_record(1, 0xABCD, {0xEF, 0xFA});
  std::transform(lower.begin() + 1, lower.end(), lower.begin() + 1,
                 [](char c) { return c >= 'A' && c <= 'F' ? static_cast<char>(c + 32) : c; });
  const crypto::Digest plain =
      read_s(s_record(1, 0xABCD, {0xEF, 0xFA}) + "\n" + s9)->image.digest();
  for (const std::string end : {"\n", "\r", "\r\n"}) {
    const Try<Firmware> result = read_s(lower + end + "S9030000fc" + (end == "\r" ? "" : end));
    REQUIRE(verdict(result) == "accepted");
    CHECK(spell(result->notes).empty());
    CHECK(result->image.digest() == plain);
  }
}

TEST_CASE("every fault is refused with its line and column") {
  const std::string again = "|nothing, or lines of text";
  CHECK(judged("") == "srec-empty 1:1 0 bytes|records");
  CHECK(judged(good) == "srec-no-end 2:1 the end of the file|a record S7, S8 or S9");
  CHECK(judged(good + ":00000001FF\n") == "srec-line-start 2:1 ':'|'S'");
  // Lower-case 's': objcopy refuses, srec_cat ignores the line (measured).
  CHECK(judged("s1" + good.substr(2) + s9) == "srec-line-start 1:1 's'|'S'");
  CHECK(judged("; text\n" + good + s9) == "srec-line-start 1:1 ';'|'S'");
  CHECK(judged(good + "S4030000FC\n" + s9) == "srec-type 2:2 '4'|S0 to S3 or S5 to S9");
  CHECK(judged(good + "SA030000FC\n" + s9) == "srec-type 2:2 'A'|S0 to S3 or S5 to S9");
  CHECK(judged(good + "S\n" + s9) == "srec-type 2:2 the end of the line|S0 to S3 or S5 to S9");
  CHECK(judged(" S1G30000\n" + s9) == "srec-digit 1:4 'G'|a digit, 0 to 9 or A to F");
  CHECK(judged("S105000X\n" + s9) == "srec-digit 1:8 'X'|a digit, 0 to 9 or A to F");
  CHECK(judged(good.substr(0, 12) + "\n" + s9) == "srec-short 1:13 12 characters|18 characters");
  CHECK(judged("S10\n" + s9) == "srec-short 1:4 3 characters|4 characters");
  CHECK(judged(good.substr(0, 18) + good + s9) ==
        "srec-long 1:19 \"S107010001020304ED\"|the end of the line");
  CHECK(judged("S107010001020304EE\n" + s9) == "srec-checksum 1:17 0xEE|0xED");
  CHECK(judged("S10200FD\n" + s9) == "srec-length 1:3 count 2|at least 3 in an S1 record");
  CHECK(judged("S100\n" + s9) == "srec-length 1:3 count 0|at least 3 in an S1 record");
  CHECK(judged(line(9, 0, {1})) == "srec-length 1:3 count 4|3 in an S9 record");
  CHECK(judged(line(5, 0, {1})) == "srec-length 1:3 count 4|3 in an S5 record");
  CHECK(judged(good + line(5, 2, {}) + s9) == "srec-count 2:5 2|1, as many as were read");
  CHECK(judged(good + line(6, 0x010001, {}) + s9) ==
        "srec-count 2:5 65537|1, as many as were read");
  CHECK(judged(line(3, 0xFFFFFFFF, {1, 2}) + line(7, 0, {})) ==
        "srec-past-4g 1:5 last byte at 0x100000000|0xFFFFFFFF at most");
  CHECK(judged(good + s9 + s9) == "srec-after-end 3:1 \"S9030000FC\"" + again);
  CHECK(judged(good + s9 + "a\x01\n") == "srec-after-end 3:2 byte 0x01" + again);
  CHECK(judged(good + std::string(5000, ' ') + "\n" + s9) ==
        "srec-line-long 2:1 more than 4096 characters|at most 4096");
  CHECK(judged(line(1, 0, {1, 2}) + line(1, 1, {3}) + s9) ==
        "image-conflict 2:0 0x03 on line 2|0x02 on line 1");
}

TEST_CASE("a missing end and comments are accepted where an option says so, and noted") {
  CHECK(judged(good, {true, false}) == "missing-end:1:1");
  CHECK(judged("; a\n" + good + "# b\n// c\n" + s9, {false, true}) == "comment-line:3:1");
  CHECK(judged("; a\n" + good + s9, {true, false}) == "srec-line-start 1:1 ';'|'S'");
}

TEST_CASE("neither the order of records nor the pieces in which they come change the digest") {
  std::mt19937 random = fixed_random(21);
  for (int round = 0; round < 60; ++round) {
    std::vector<std::string> records;
    std::uint32_t address = static_cast<std::uint32_t>(random());
    for (int index = 0; index < 40; ++index) {
      Bytes data(1 + random() % 20);
      for (std::uint8_t& byte : data) {
        byte = static_cast<std::uint8_t>(random());
      }
      records.push_back(line(3, address, data));
      address += static_cast<std::uint32_t>(data.size() + (random() % 3 == 0 ? random() % 50 : 0));
    }
    const auto joined = [&] {
      std::string text;
      for (const std::string& each : records) {
        text += each;
      }
      return text + "S70500000000FA\n";
    };
    const std::string text = joined();
    const Try<Firmware> ordered = read_s(text);
    REQUIRE(verdict(ordered) == "accepted");
    std::shuffle(records.begin(), records.end(), random);
    const Try<Firmware> shuffled = read_s(joined());
    REQUIRE(verdict(shuffled) == "accepted");
    CHECK(shuffled->image.digest() == ordered->image.digest());
    CHECK(shuffled->image.segments() == ordered->image.segments());
    SRecordReader pieces("in.s19", {});
    for (std::size_t at = 0; at < text.size();) {
      const std::size_t length = std::min<std::size_t>(1 + random() % 90, text.size() - at);
      REQUIRE(pieces.feed(bytes_of(text).subspan(at, length)).has_value());
      at += length;
    }
    CHECK(pieces.finish()->image.digest() == ordered->image.digest());
  }
}

TEST_CASE("no truncation of an S-record file is accepted, but for the last line end") {
  const std::string text = good + line(3, 0x80000000, {7, 8, 9}) + line(5, 2, {}) + line(7, 1, {});
  for (std::size_t length = 0; length + 1 < text.size(); ++length) {
    CHECK_FALSE(read_s(text.substr(0, length)).has_value());
  }
  CHECK(read_s(text.substr(0, text.size() - 1)).has_value());
}

TEST_CASE("10,000 altered S-record files give an error with a place or a sound image") {
  std::mt19937 random = fixed_random(22);
  std::string text = line(0, 0, {'h'});
  for (std::uint32_t at = 0; at < 20; ++at) {
    text += line(1 + at % 3, at * 16, {1, 2, 3, 4, 5, 6, 7, 8});
  }
  text += line(5, 20, {}) + line(7, 0, {});
  const std::string alphabet = "S0123456789ABCDEFabcdef \n\r\t\x1A\xEF;:";
  std::size_t refused = 0;
  for (int round = 0; round < 10000; ++round) {
    std::string changed = text;
    for (auto change = 1 + random() % 3; change != 0; --change) {
      const std::size_t at = random() % changed.size();
      switch (random() % 4) {
      case 0:
        changed[at] = static_cast<char>(changed[at] ^ (1 << (random() % 8)));
        break;
      case 1:
        changed[at] = alphabet[random() % alphabet.size()];
        break;
      case 2:
        changed.insert(at, 1, alphabet[random() % alphabet.size()]);
        break;
      default:
        changed.erase(at, 1 + random() % 50);
      }
      changed += changed.empty() ? "\n" : "";
    }
    const Try<Firmware> result = read_s(changed, {random() % 2 == 0, random() % 2 == 0});
    if (!result) {
      ++refused;
      REQUIRE(result.error().kind == ErrorKind::bad_data);
      REQUIRE(result.error().place.line > 0);
    } else if (!result->image.empty()) {
      REQUIRE(result->image.segments().back().end() <= 0x100000000);
    }
  }
  CHECK(refused > 5000);
}

TEST_CASE("a written file has records of one width, their number and the end that belongs to it") {
  const SparseImage low = make_image({{0xFFFE, {1, 2}}});
  CHECK(written(low) == "S0030000FC\nS105FFFE0102FA\nS5030001FB\nS9030000FC\n");
  CHECK(written(low, {16, LineEnd::crlf, 24, {}}) ==
        "S0030000FC\r\nS20600FFFE0102F9\r\nS5030001FB\r\nS804000000FB\r\n");
  CHECK(written(make_image({{0xFFFF, {1, 2}}})) ==
        "S0030000FC\nS20600FFFF0102F8\nS5030001FB\nS804000000FB\n");
  SRecordWriteOptions options;
  options.start = StartAddress{StartKind::linear, 0x01000000, 0};
  CHECK(written(low, options) == "S0030000FC\nS3070000FFFE0102F8\nS5030001FB\nS70501000000F9\n");
  options.start = StartAddress{StartKind::end_record, 0x1234, 0};
  CHECK(written(make_image({}), options) == "S0030000FC\nS5030000FC\nS9031234B6\n");
}

TEST_CASE("what can't be written as S-record is refused with both values") {
  const SparseImage image = make_image({{0x10000, {1}}});
  const auto with = [&](SRecordWriteOptions options) { return written(image, options); };
  CHECK(with({16, LineEnd::lf, 16, {}}) ==
        "srec-past-width 0:0 last byte at 0x10000|at most 16 bits");
  CHECK(with({16, LineEnd::lf, 20, {}}) == "srec-width 0:0 20|16, 24 or 32 bits");
  CHECK(with({0, LineEnd::lf, {}, {}}) == "srec-record-length 0:0 0|1 to 251 bytes");
  CHECK(with({251, LineEnd::lf, 32, {}}) == "srec-record-length 0:0 251|1 to 250 bytes");
  CHECK(with({16, LineEnd::lf, 24, StartAddress{StartKind::linear, 0x1000000, 0}}) ==
        "srec-start-wide 0:0 0x1000000|at most 24 bits");
  CHECK(with({16, LineEnd::lf, {}, StartAddress{StartKind::linear, 0x100000000, 0}}) ==
        "srec-start-wide 0:0 0x100000000|at most 32 bits");
  CHECK(with({16, LineEnd::lf, {}, StartAddress{StartKind::segmented, 1, 0}}) ==
        "srec-start-segmented 0:0 0x1|a linear one, or none");
  CHECK(written(make_image({{0xFFFFFFFF, {1, 2}}})) ==
        "srec-past-4g 0:0 last byte at 0x100000000|0xFFFFFFFF at most");
}

TEST_CASE("what is written as S-record is read back to the same image, without a note") {
  std::mt19937 random = fixed_random(23);
  for (int round = 0; round < 40; ++round) {
    std::vector<Part> parts;
    std::uint64_t address = random() % 0x4000;
    for (auto part = 1 + random() % 4; part != 0; --part) {
      Bytes bytes(1 + random() % 700);
      for (std::uint8_t& byte : bytes) {
        byte = static_cast<std::uint8_t>(random());
      }
      parts.push_back({address, bytes});
      address += 0x1000 + (round % 2 == 0 ? 0 : random() % 0x400000);
    }
    const SparseImage image = make_image(parts);
    SRecordWriteOptions options;
    options.record_length = 1 + static_cast<std::uint32_t>(random() % 250);
    options.start = StartAddress{StartKind::linear, 1 + random() % 0xFFFF, 0};
    const std::string text = written(image, options);
    const Try<Firmware> again = read_s(text);
    REQUIRE(verdict(again) == "accepted");
    CHECK(again->image.digest() == image.digest());
    CHECK(again->start->value == options.start->value);
    CHECK(spell(again->notes).empty());
  }
}
