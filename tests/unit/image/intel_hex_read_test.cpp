// Rules of form: Intel Hexadecimal Object File Format Specification, revision A, 1988. Where common
// readers differ about a file, the stricter or noted answer is this project's own.
#include <algorithm>
#include <tuple>

#include "image/intel_hex.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

const Bytes sixteen{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15};
const std::string sixteen_at_0 = ":10000000000102030405060708090A0B0C0D0E0F78\n";
const std::string plain = sixteen_at_0 + end_record;

crypto::Digest plain_digest() {
  return make_image({{0, sixteen}}).digest();
}

struct Fault {
  const char* why;
  std::string text;
  const char* error; // "code line:column found|expected"
};

void check_faults(const std::vector<Fault>& faults) {
  for (const Fault& fault : faults) {
    INFO(fault.why);
    const Try<Firmware> result = read(fault.text);
    CHECK(verdict(result) == fault.error);
    if (!result) {
      CHECK(result.error().kind == ErrorKind::bad_data);
      CHECK(result.error().place.file == "in.hex");
      CHECK_FALSE(result.error().what.empty());
      CHECK_FALSE(result.error().hint.empty());
    }
  }
}

} // namespace

TEST_CASE("a record that breaks the form is refused with its line, column and both values") {
  check_faults({
      {"checksum", std::string(":10000000000102030405060708090A0B0C0D0E0F79\n") + end_record,
       "hex-checksum 1:42 0x79|0x78"},
      {"checksum, indented, after a blank line", std::string("\n  :0100000055AB\n") + end_record,
       "hex-checksum 2:14 0xAB|0xAA"},
      {"a data digit changed", sixteen_at_0 + ":0100100056A9\n" + end_record,
       "hex-checksum 2:12 0xA9|0x99"},
      {"not a digit", sixteen_at_0 + ":01001000G59A\n" + end_record,
       "hex-digit 2:10 'G'|a digit, 0 to 9 or A to F"},
      {"not a digit in the length", ":0x00001FF\n", "hex-digit 1:3 'x'|a digit, 0 to 9 or A to F"},
      {"a NUL", std::string(":01") + '\0' + "000055AA\n" + end_record,
       "hex-digit 1:4 byte 0x00|a digit, 0 to 9 or A to F"},
      {"a space inside", std::string(":01 0000055AA\n") + end_record,
       "hex-digit 1:4 ' '|a digit, 0 to 9 or A to F"},
      {"data cut off", std::string(":0400000001020304\n") + end_record,
       "hex-short 1:18 17 characters|19 characters"},
      {"only the mark", std::string(":\n") + end_record, "hex-short 1:2 1 character|11 characters"},
      {"length says less than there is", std::string(":0100000055AA00\n") + end_record,
       "hex-long 1:14 \"00\"|the end of the line"},
      {"two records on one line", std::string(":0100000055AA:0100010055A9\n") + end_record,
       "hex-long 1:14 \":0100010055A9\"|the end of the line"},
      {"unknown type", record(0, 6, {}) + "\n" + end_record, "hex-type 1:8 0x06|0x00 to 0x05"},
      {"no record at all", std::string("firmware\n") + end_record, "hex-line-start 1:1 'f'|':'"},
      {"another format's record", sixteen_at_0 + "S9030000FC\n", "hex-line-start 2:1 'S'|':'"},
      {"a comment line", std::string("; built today\n") + plain, "hex-line-start 1:1 ';'|':'"},
      {"an empty file", "", "hex-empty 1:1 0 bytes|records"},
  });
}

TEST_CASE("a record of types 01 to 05 has the length and offset that its type fixes") {
  check_faults({
      {"end with data", record(0, 1, {0}) + "\n",
       "hex-length 1:2 1 data byte|0 in a record of type 0x01"},
      {"segment base", record(0, 2, {1, 2, 3}) + "\n" + plain,
       "hex-length 1:2 3 data bytes|2 in a record of type 0x02"},
      {"segment start", record(0, 3, {1, 2}) + "\n" + plain,
       "hex-length 1:2 2 data bytes|4 in a record of type 0x03"},
      {"linear base", record(0, 4, {0}) + "\n" + plain,
       "hex-length 1:2 1 data byte|2 in a record of type 0x04"},
      {"linear start", record(0, 5, {0, 0, 0, 0, 0}) + "\n" + plain,
       "hex-length 1:2 5 data bytes|4 in a record of type 0x05"},
      {"linear base with an offset", record(0x10, 4, {0, 1}) + "\n" + plain,
       "hex-offset 1:4 0x10|0x0 in a record of type 0x04"},
  });
}

TEST_CASE("a file without an end record is refused unless an option accepts it") {
  check_faults({
      {"no end", sixteen_at_0, "hex-no-end 2:1 the end of the file|a record of type 0x01"},
      {"no end, last line open", ":0100000055AA",
       "hex-no-end 1:14 the end of the file|a record of type 0x01"},
  });
  HexReadOptions options;
  options.allow_missing_end = true;
  const Try<Firmware> result = read(sixteen_at_0, options);
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "missing-end:1:1");
  CHECK(result->image.digest() == plain_digest());
}

TEST_CASE("nothing but text may follow the end record, and the text is kept") {
  check_faults({
      {"data", plain + record(0x20, 0, {1}) + "\n",
       "hex-after-end 3:1 \":0100200001DE\"|nothing, or lines of text"},
      {"indented data", plain + "\n  " + record(0x20, 0, {1}) + "\n",
       "hex-after-end 4:3 \":0100200001DE\"|nothing, or lines of text"},
      {"a second end", plain + end_record,
       "hex-after-end 3:1 \":00000001FF\"|nothing, or lines of text"},
      {"binary", plain + std::string("ab\0c\n", 5),
       "hex-after-end 3:3 byte 0x00|nothing, or lines of text"},
      {"two 0x1A", plain + "\x1A\x1A", "hex-after-end 3:1 byte 0x1A|nothing, or lines of text"},
  });
  const Try<Firmware> result = read(plain + "built by Tarn & Alder\n\n\tat 12:30\n");
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "text-after-end:2:3 blank-line:1:4");
  REQUIRE(result->text_after_end.size() == 2);
  CHECK(result->text_after_end[0].line == 3);
  CHECK(result->text_after_end[0].text == "built by Tarn & Alder");
  CHECK(result->text_after_end[1].line == 5);
  CHECK(result->text_after_end[1].text == "\tat 12:30");
}

TEST_CASE("of many text lines after the end the first hundred are kept and all are counted") {
  std::string text = plain;
  for (int line = 0; line < 150; ++line) {
    text += "note\n";
  }
  const Try<Firmware> result = read(text);
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->text_after_end.size() == text_lines_kept);
  CHECK(spell(result->notes) == "text-after-end:150:3");
}

TEST_CASE("harmless differences of form give the same image, with the notes they deserve") {
  const std::string lower = ":10000000000102030405060708090a0b0c0d0e0f78\n:00000001ff\n";
  const std::string no_line_end = plain.substr(0, plain.size() - 1);
  std::string carriage_returns = plain;
  std::replace(carriage_returns.begin(), carriage_returns.end(), '\n', '\r');
  const std::string first = sixteen_at_0.substr(0, sixteen_at_0.size() - 1);
  const std::vector<std::tuple<const char*, std::string, const char*>> forms{
      {"lower case", lower, ""},
      {"no last line end", no_line_end, ""},
      {"CR", carriage_returns, ""},
      {"CRLF", first + "\r\n:00000001FF\r\n", ""},
      {"byte order mark", std::string("\xEF\xBB\xBF") + plain, "byte-order-mark:1:1"},
      {"spaces", std::string("  ") + first + " \t\n :00000001FF\n", "space-around-record:2:1"},
      {"byte order mark and spaces", std::string("\xEF\xBB\xBF ") + plain,
       "byte-order-mark:1:1 space-around-record:1:1"},
      {"blank lines", std::string("\n") + sixteen_at_0 + "\r\n  \n" + end_record + "\n",
       "blank-line:4:1"},
      {"0x1A", plain + "\x1A", "trailing-1a:1:3"},
      {"0x1A without a line end", no_line_end + "\x1A", "trailing-1a:1:2"},
      {"record without data", sixteen_at_0 + ":00005000B0\n" + end_record, "empty-record:1:2"},
  };
  for (const auto& [why, text, notes] : forms) {
    INFO(why);
    const Try<Firmware> result = read(text);
    REQUIRE(verdict(result) == "accepted");
    CHECK(spell(result->notes) == notes);
    CHECK(result->image.digest() == plain_digest());
  }
}

TEST_CASE("comment lines are accepted only by option, and noted") {
  const std::string text =
      std::string("; frost-node\n") + sixteen_at_0 + "# x\n// y\n" + end_record;
  CHECK(verdict(read(text)) == "hex-line-start 1:1 ';'|':'");
  HexReadOptions options;
  options.allow_comments = true;
  const Try<Firmware> result = read(text, options);
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "comment-line:3:1");
  CHECK(result->image.digest() == plain_digest());
  CHECK(verdict(read(std::string("frost-node\n") + plain, options)) ==
        "hex-line-start 1:1 'f'|':'");
}

TEST_CASE("base records of types 02 and 04 place the data that follows") {
  const std::string data_and_end = record(0x0010, 0, {0xAA}) + "\n" + end_record;
  const std::vector<std::tuple<std::string, std::uint64_t>> bases{
      {"", 0x10},
      {record(0, 4, {0x08, 0x00}) + "\n", 0x08000010},
      {record(0, 4, {0xFF, 0xFF}) + "\n", 0xFFFF0010},
      {record(0, 2, {0x12, 0x34}) + "\n", 0x12350},
      {record(0, 2, {0xFF, 0xFF}) + "\n", 0x100000},
      {record(0, 2, {0, 0}) + "\n" + record(0, 4, {0, 1}) + "\n", 0x10010},
      {record(0, 4, {0, 0}) + "\n" + record(0, 2, {0x10, 0}) + "\n", 0x10010},
      {record(0, 2, {0x10, 0}) + "\n" + record(0, 2, {0, 0}) + "\n" + record(0, 4, {0, 2}) + "\n",
       0x20010},
  };
  for (const auto& [base, address] : bases) {
    INFO(base);
    const Try<Firmware> result = read(base + data_and_end);
    REQUIRE(verdict(result) == "accepted");
    CHECK(result->image.segments() == std::vector<Segment>{{address, 1}});
  }
}

// Measured: some converters add the two bases, others let the later replace the earlier.
TEST_CASE("data is refused while a segment base and a linear base disagree about its address") {
  const std::string data = record(0x0010, 0, {0xAA}) + "\n";
  const std::string segment = record(0, 2, {0x10, 0}) + "\n";
  const std::string linear = record(0, 4, {0, 1}) + "\n";
  check_faults({
      {"both not zero", segment + data + linear + data + end_record,
       "hex-two-bases 3:10 linear base 0x10000 after segment base 0x10000 on line 1|"
       "records of type 0x02 or 0x04, not both"},
      {"the other way round", linear + segment + data + end_record,
       "hex-two-bases 2:10 segment base 0x10000 after linear base 0x10000 on line 1|"
       "records of type 0x02 or 0x04, not both"},
      {"a zero that resets only one of them", segment + data + record(0, 4, {0, 0}) + "\n" + data,
       "hex-two-bases 3:10 linear base 0x0 after segment base 0x10000 on line 1|"
       "records of type 0x02 or 0x04, not both"},
  });
}

TEST_CASE(
    "data that runs past 0xFFFF goes on after type 04, wraps after type 02, else is refused") {
  const std::string crossing = record(0xFFFE, 0, {1, 2, 3, 4}) + "\n";
  check_faults(
      {{"no base", crossing + end_record, "hex-past-64k 1:4 last byte at 0x10001|0xFFFF at most"}});
  CHECK(verdict(read(record(0xFFFE, 0, {1, 2}) + "\n" + end_record)) == "accepted");

  const Try<Firmware> linear = read(record(0, 4, {0, 1}) + "\n" + crossing + end_record);
  REQUIRE(verdict(linear) == "accepted");
  CHECK(linear->image.segments() == std::vector<Segment>{{0x1FFFE, 4}});
  CHECK(linear->notes.all().empty());

  const Try<Firmware> zero = read(record(0, 4, {0, 0}) + "\n" + crossing + end_record);
  REQUIRE(verdict(zero) == "accepted");
  CHECK(zero->image.segments() == std::vector<Segment>{{0xFFFE, 4}});

  const Try<Firmware> segment = read(record(0, 2, {0x10, 0}) + "\n" + crossing + end_record);
  REQUIRE(verdict(segment) == "accepted");
  CHECK(segment->image.segments() == std::vector<Segment>{{0x10000, 2}, {0x1FFFE, 2}});
  CHECK(to_bytes(segment->image.image_bytes()) == Bytes{3, 4, 1, 2});
  CHECK(spell(segment->notes) == "segment-wrap:1:2");
  CHECK(segment->image.origin(0x10001)->line == 2);
}

TEST_CASE("the byte at 0xFFFFFFFF is data and the one after it is refused") {
  const std::string base = record(0, 4, {0xFF, 0xFF}) + "\n";
  const Try<Firmware> last = read(base + record(0xFFFF, 0, {7}) + "\n" + end_record);
  REQUIRE(verdict(last) == "accepted");
  CHECK(last->image.at(0xFFFFFFFF) == 7);
  check_faults({{"one too far", base + record(0xFFFF, 0, {7, 8}) + "\n" + end_record,
                 "hex-past-4g 2:4 last byte at 0x100000000|0xFFFFFFFF at most"}});
}

TEST_CASE("a start address is kept whole and is never data") {
  const std::vector<std::tuple<std::string, StartAddress, const char*>> starts{
      {record(0, 3, {0x12, 0x34, 0xAB, 0xCD}) + "\n" + end_record,
       {StartKind::segmented, 0x1234ABCD, 2},
       ""},
      {record(0, 5, {0x08, 0x00, 0x01, 0x01}) + "\n" + end_record,
       {StartKind::linear, 0x08000101, 2},
       ""},
      {record(0x1234, 1, {}) + "\n", {StartKind::end_record, 0x1234, 2}, "end-address:1:2"},
      {record(0, 5, {0, 0, 0, 8}) + "\n" + record(0, 5, {0, 0, 0, 8}) + "\n" + end_record,
       {StartKind::linear, 8, 2},
       "same-start:1:3"},
  };
  for (const auto& [text, start, notes] : starts) {
    INFO(text);
    const Try<Firmware> result = read(sixteen_at_0 + text);
    REQUIRE(verdict(result) == "accepted");
    CHECK(result->start == start);
    CHECK(spell(result->notes) == notes);
    CHECK(result->image.digest() == plain_digest());
  }
  check_faults({{"two that differ",
                 record(0, 5, {0, 0, 0, 8}) + "\n" + record(0, 5, {0, 0, 0, 9}) + "\n" + plain,
                 "hex-two-starts 2:10 0x9 (linear)|0x8 (linear) as on line 1"}});
}

TEST_CASE("an address with two values is refused with both lines and both values") {
  const Try<Firmware> result =
      read(sixteen_at_0 + record(0x0007, 0, {7, 0xFF}) + "\n" + end_record);
  REQUIRE_FALSE(result.has_value());
  CHECK(spell(result.error()) == "image-conflict 2:0 0xFF on line 2|0x08 on line 1");
  CHECK(result.error().place.item == "address 0x8");
  CHECK(describe(result.error()) ==
        "in.hex:2: address 0x8: one address is given two different bytes: found 0xFF on line 2, "
        "expected 0x08 on line 1 (find out where the firmware is built which of the two is right)");
}

TEST_CASE("a byte given twice with one value is noted with range and count") {
  const Try<Firmware> result =
      read(sixteen_at_0 + record(0x20, 0, {1}) + "\n" + record(0x0E, 0, {14, 15, 16}) + "\n" +
           sixteen_at_0 + end_record);
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.segments() == std::vector<Segment>{{0, 17}, {0x20, 1}});
  const Note* same = result->notes.find(note::same_bytes);
  REQUIRE(same != nullptr);
  CHECK(same->count == 18);
  CHECK(same->line == 3);
  CHECK(same->detail == "0x0 to 0xF");
  CHECK(spell(result->notes) == "out-of-order:2:3 same-bytes:18:3");
}

TEST_CASE("a file cut into pieces anywhere reads as the whole does") {
  const std::string text = std::string("\xEF\xBB\xBF") + sixteen_at_0 + " " +
                           record(0x20, 0, {1, 2}) + "\r\n\r\n" + ":00000001FF\r\nnote\x1A";
  const Try<Firmware> whole = read(text);
  REQUIRE(verdict(whole) == "accepted");
  const std::string notes = "byte-order-mark:1:1 space-around-record:1:2 blank-line:1:3 "
                            "trailing-1a:1:5 text-after-end:1:5";
  CHECK(spell(whole->notes) == notes);
  for (std::size_t first = 0; first <= text.size(); ++first) {
    for (const std::size_t second : {std::size_t{0}, std::size_t{1}, std::size_t{7}}) {
      const std::size_t middle = std::min(first + second, text.size());
      IntelHexReader reader("in.hex", {});
      const ByteView all = bytes_of(text);
      REQUIRE(reader.feed(all.first(first)).has_value());
      REQUIRE(reader.feed(all.subspan(first, middle - first)).has_value());
      REQUIRE(reader.feed(all.subspan(middle)).has_value());
      const Try<Firmware> pieces = reader.finish();
      REQUIRE(verdict(pieces) == "accepted");
      CHECK(spell(pieces->notes) == notes);
      CHECK(pieces->image.digest() == whole->image.digest());
      CHECK(pieces->image.origin(0x21)->line == 2);
    }
  }
}

TEST_CASE("a line longer than any record needs is refused wherever the pieces end") {
  const std::string text = sixteen_at_0 + std::string(10000, ' ') + "\n" + end_record;
  check_faults({{"whole", text, "hex-line-long 2:1 more than 4096 characters|at most 4096"}});
  IntelHexReader reader("in.hex", {});
  std::string code;
  for (std::size_t at = 0; at < text.size() && code.empty(); at += 100) {
    const std::size_t length = std::min<std::size_t>(100, text.size() - at);
    const Try<void> fed = reader.feed(bytes_of(text).subspan(at, length));
    code = fed ? "" : fed.error().code;
  }
  CHECK(code == "hex-line-long");
}

TEST_CASE("a file with an end record only is an image without bytes, noted") {
  const Try<Firmware> result = read(end_record);
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.empty());
  CHECK(spell(result->notes) == "no-data:1:0");
}
