#include "image/operations.h"

#include "image/compare.h"
#include "image/read_back.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

constexpr std::uint64_t top = 0xFFFFFFFFFFFFFFFE; // the last address possible

std::string judged(const Try<SparseImage>& result) {
  if (!result) {
    return spell(result.error());
  }
  std::string out;
  for (const Segment& segment : result->segments()) {
    out += (out.empty() ? "" : " ") + std::to_string(segment.address) + "+" +
           std::to_string(segment.length);
  }
  return out;
}

SparseImage from_hex() {
  return read(record(0x10, 0, {1, 2, 3, 4}) + "\n" + record(0x14, 0, {5, 6, 7, 8}) + "\n" +
              record(0x40, 0, {9}) + "\n" + end_record)
      ->image;
}

// "cause name address+length" of each range.
std::string spell_report(const ReadBackReport& report) {
  std::string out;
  for (const Explained& each : report.ranges) {
    out += out.empty() ? "" : ", ";
    out += cause_words[static_cast<std::size_t>(each.cause)];
    out += " " + each.name + " " + std::to_string(each.difference.range.address) + "+" +
           std::to_string(each.difference.range.length);
  }
  return out;
}

std::string explained(const SparseImage& image, const SparseImage& read_back,
                      const ReadBackRules& rules) {
  const Try<ReadBackReport> report = explain(image, read_back, rules);
  return report ? spell_report(*report) : spell(report.error());
}

} // namespace

TEST_CASE("moving keeps bytes and lines, and stops at both ends of the addresses") {
  const SparseImage image = from_hex();
  const Try<SparseImage> up = image::move(image, 0x100);
  CHECK(judged(up) == "272+8 320+1");
  CHECK(up->at(0x115) == 6);
  CHECK(up->origin(0x115)->line == 2);
  CHECK(up->origin(0x140)->line == 3);
  CHECK(image::move(*up, -0x100)->digest() == image.digest());
  CHECK(judged(image::move(image, -0x10)) == "0+8 48+1");
  CHECK(judged(image::move(image, -0x11)) == "image-move 0:0 17 bytes down|at most 16");
  const SparseImage high = make_image({{top, {1}}});
  CHECK(judged(image::move(high, 1)) == "image-move 0:0 1 byte up|at most 0");
  CHECK(judged(image::move(high, 0)) == std::to_string(top) + "+1");
  CHECK(judged(image::move(high, INT64_MIN)) == std::to_string(top - (1ULL << 63)) + "+1");
  CHECK(judged(image::move(make_image({}), 5)).empty());
}

TEST_CASE("aligning completes units and adds none") {
  const SparseImage image = make_image({{5, {1}}, {9, {2}}, {13, {3}}, {100, {4, 5, 6, 7, 8}}});
  const Try<SparseImage> aligned = align(image, 4, 0xEE);
  CHECK(judged(aligned) == "4+12 100+8");
  CHECK(aligned->at(4) == 0xEE);
  CHECK(aligned->at(5) == 1);
  CHECK(aligned->at(107) == 0xEE);
  CHECK(aligned->origin(4)->file == "align");
  CHECK(align(image, 1, 0)->digest() == image.digest());
  CHECK(judged(align(image, 3, 0)) == "3+3 9+6 99+6"); // no power of two is needed
  CHECK(judged(align(image, 128, 0)) == "0+128");
  CHECK(judged(align(image, 0, 0)) == "align-unit 0:0 0|1 byte or more");
  CHECK(judged(align(make_image({{top, {1}}}), 2, 0)).starts_with("image-range 0:0 a unit of 2"));
  CHECK(judged(align(image, std::uint64_t{1} << 40, 0)).starts_with("image-range 0:0 more than"));
  CHECK(judged(align(make_image({}), 4, 0)).empty());
}

TEST_CASE("several ranges are cropped as their union") {
  const SparseImage image = make_image({{0, Bytes(100, 7)}});
  CHECK(judged(crop(image, std::vector<Segment>{{50, 10}, {10, 5}, {12, 6}, {12, 2}})) ==
        "10+8 50+10");
  CHECK(crop(image, std::vector<Segment>{}).empty());
}

TEST_CASE("splitting by region gives each byte to one part or to what is left") {
  const SparseImage image = make_image({{0, Bytes(100, 1)}, {1000, Bytes(20, 2)}});
  const Try<Split> split =
      image::split(image, {{"data", {1010, 100}}, {"code", {10, 40}}, {"none", {500, 1}}});
  REQUIRE(split.has_value());
  CHECK(judged(split->parts[0]) == "1010+10");
  CHECK(judged(split->parts[1]) == "10+40");
  CHECK(split->parts[2].empty());
  CHECK(judged(split->leftover) == "0+10 50+50 1000+10");
  Notes notes;
  const Try<SparseImage> again =
      merge({&split->parts[0], &split->parts[1], &split->parts[2], &split->leftover}, notes);
  CHECK(again->digest() == image.digest());
  CHECK(notes.all().empty());
  const Try<Split> overlap = image::split(image, {{"b", {14, 5}}, {"a", {10, 5}}});
  REQUIRE_FALSE(overlap.has_value());
  CHECK(spell(overlap.error()) == "regions-overlap 0:0 b from 0xE|after the end of a, 0xE");
}

TEST_CASE("rows around a difference show both images and leave empty rows out") {
  const SparseImage a = make_image({{0x108, {1, 2}}, {0x130, {3}}});
  const SparseImage b = make_image({{0x109, {9}}});
  const std::vector<Row> rows = rows_around(a, b, {0x108, 2}, 3, 10);
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].address == 0x100);
  CHECK_FALSE(rows[0].a[7].has_value());
  CHECK(rows[0].a[9] == 2);
  CHECK_FALSE(rows[0].b[8].has_value());
  CHECK(rows[0].b[9] == 9);
  CHECK(rows[1].address == 0x130);
  CHECK(rows_around(a, b, {0x108, 2}, 3, 1).size() == 1);
  CHECK(rows_around(make_image({{top, {1}}}), b, {top, 1}, 5, 10).size() == 1);
}

TEST_CASE("a read-back's differences are each explained by one rule, or by none") {
  const SparseImage image = make_image({{0x00, Bytes(64, 0x11)}, {0x80, {0xFF, 0xFF, 0xFF, 0xFF}}});
  ReadBackRules rules;
  rules.serial = {{"number", 0x80, {'F', 'N', 0xFF, '7'}}};
  rules.kept = {{"calibration", {0x3E, 2}}};
  rules.configuration = {{"fuses", 0x20, {0x0F, 0xF0}}};
  rules.unreadable = {{"boot", {0x30, 8}}};
  rules.erased = {0xFF, 0x3F};
  Bytes memory(0xA0, 0xFF);
  for (std::size_t at = 1; at < memory.size(); at += 2) {
    memory[at] = 0x3F;
  }
  std::fill_n(memory.begin(), 64, std::uint8_t{0x11});
  memory[0x80] = 'F';
  memory[0x81] = 'N';
  memory[0x82] = 0xFF;
  memory[0x83] = '7';
  const auto judge = [&] { return explained(image, make_image({{0, memory}}), rules); };
  CHECK(judge() == "serial number 128+2, serial number 131+1");
  memory[0x3F] = 0x77;
  memory[0x20] = 0xF1; // only bits that don't count
  memory[0x33] = 0;
  CHECK(judge() == "configuration fuses 32+1, unreadable boot 51+1, kept calibration 63+1, "
                   "serial number 128+2, serial number 131+1");
  memory[0x21] = 0x21; // a bit that counts
  memory[0x83] = '8';  // another unit's number
  memory[0x90] = 0;    // not erased
  CHECK(judge() == "configuration fuses 32+1, unexplained  33+1, unreadable boot 51+1, "
                   "kept calibration 63+1, serial number 128+2, unexplained  131+1, "
                   "unexplained  144+1");
  const Try<ReadBackReport> report = explain(image, make_image({{0, memory}}), rules);
  REQUIRE(report.has_value());
  CHECK(report->bytes == std::array<std::uint64_t, 5>{1, 2, 1, 1, 3});
  CHECK(report->equal_bytes == 64 - 4 + 1);
  CHECK(report->erased_bytes == 0xA0 - 64 - 4 - 1);
  CHECK(report->range_count == 7);
  CHECK(explain(image, make_image({{0, memory}}), rules, 1)->ranges.size() == 2);
}

TEST_CASE("a board that holds the placeholder, or lacks bytes, is not explained") {
  const SparseImage image = make_image({{0, {1, 2, 3, 4}}});
  ReadBackRules rules;
  rules.serial = {{"number", 2, {9, 9}}, {"beyond", 8, {5}}};
  CHECK(explained(image, image, rules) == "unexplained  2+2, unexplained  8+1");
  CHECK(explained(image, make_image({{0, {1, 2, 9, 9}}, {8, {5}}}), rules) ==
        "serial number 2+2, serial beyond 8+1");
  CHECK(explained(image, make_image({{1, {2, 9, 9}}, {8, {5}}}), rules) ==
        "unexplained  0+1, serial number 2+2, serial beyond 8+1");
  rules = {};
  rules.unreadable = {{"all", {0, 4}}};
  CHECK(explained(image, make_image({}), rules) == "unreadable all 0+4");
  // Without an erased value memory outside the image has to be absent.
  CHECK(explained(image, make_image({{0, {1, 2, 3, 4, 0xFF}}}), {}) == "unexplained  4+1");
}

TEST_CASE("rules of a read-back that contradict each other are refused") {
  const SparseImage image = make_image({{0, {1}}});
  ReadBackRules rules;
  rules.kept = {{"b", {4, 4}}, {"a", {0, 5}}};
  CHECK(explained(image, image, rules) == "regions-overlap 0:0 b from 0x4|after the end of a");
  rules.kept = {{"none", {4, 0}}};
  CHECK(explained(image, image, rules).starts_with("image-range 0:0 none, 0 bytes from 0x4"));
  rules.kept = {{"past", {top, 2}}};
  CHECK(explained(image, image, rules).starts_with("image-range 0:0 past, 2 bytes"));
  rules = {};
  rules.erased = Bytes(9, 0xFF);
  CHECK(explained(image, image, rules) == "read-back-erased 0:0 9 bytes|1 to 8 bytes");
  rules = {};
  rules.erased_in = {{{"code", {0, 8}}, {}}};
  CHECK(explained(image, image, rules) == "read-back-erased 0:0 0 bytes|1 to 8 bytes");
}

TEST_CASE("what the maker wrote may differ, and may not be gone") {
  const SparseImage image = make_image({{0, {1, 2}}});
  ReadBackRules rules;
  rules.erased = {0xFF};
  rules.kept = {{"trim", {2, 2}}};
  CHECK(explained(image, make_image({{0, {1, 2, 0x12, 0xFF}}}), rules) == "kept trim 2+1");
  CHECK(explained(image, make_image({{0, {1, 2, 0xFF, 0xFF}}}), rules) == "unexplained  2+2");
  CHECK(explained(image, make_image({{0, {1, 2}}}), rules) == ""); // not read
}

TEST_CASE("what a part is delivered with is expected where the image has nothing") {
  const SparseImage image = make_image({{0, {1, 2}}, {11, {0x55}}});
  ReadBackRules rules;
  rules.delivered = {{"fuses", 10, {0x62, 0xD9}}};
  rules.configuration = {{"fuses", 10, {0x0F, 0xFF}}};
  CHECK(explained(image, make_image({{0, {1, 2}}, {10, {0x62, 0x55}}}), rules) == "");
  CHECK(explained(image, make_image({{0, {1, 2}}, {10, {0x72, 0xD9}}}), rules) ==
        "configuration fuses 10+1, unexplained  11+1");
}

TEST_CASE("each region of a read-back has its own erased value, counted from its start") {
  const SparseImage image = make_image({{3, {1, 2}}});
  ReadBackRules rules;
  rules.erased = {0x00};
  rules.erased_in = {{{"code", {3, 6}}, {0xFF, 0x3F}}};
  CHECK(explained(image, make_image({{1, {0, 0, 1, 2, 0xFF, 0x3F, 0xFF, 0x3F, 0, 0}}}), rules) ==
        "");
  CHECK(explained(image, make_image({{2, {0xFF, 1, 2, 0x3F, 0xFF, 0xFF, 0x3F, 0xFF}}}), rules) ==
        "unexplained  2+1, unexplained  5+2, unexplained  9+1");
}
