#include "image/checksums.h"
#include "image/compare.h"
#include "image/operations.h"
#include "image/raw.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

const Bytes check_digits{'1', '2', '3', '4', '5', '6', '7', '8', '9'};

} // namespace

// CRC catalogue, reveng.sourceforge.io/crc-catalogue: check values; the digits are cut in two with
// the middle one absent and given as fill.
TEST_CASE("every crc model gives its catalogue check value over an image, filled gaps included") {
  const SparseImage whole = make_image({{0x1000, check_digits}});
  const SparseImage holed =
      make_image({{0x1000, {'1', '2', '3', '4'}}, {0x1005, {'6', '7', '8', '9'}}});
  for (const CrcModel& model : crc_models) {
    INFO(model.name);
    CHECK(*image_crc(whole, model, {}) == model.check);
    CHECK(*image_crc(holed, model, {{}, std::uint8_t{'5'}}) == model.check);
    TableCrc table(model);
    Crc bitwise(model);
    for (std::size_t length = 0; length < 40; ++length) {
      Bytes bytes(length);
      for (std::size_t index = 0; index < length; ++index) {
        bytes[index] = static_cast<std::uint8_t>(length * 91 + index * 7);
      }
      table.update(bytes);
      bitwise.update(bytes);
    }
    CHECK(table.value() == bitwise.value());
  }
}

// 0x31 + ... + 0x39 = 0x01DD.
TEST_CASE("the byte sum covers the range with its fill") {
  const SparseImage image = make_image({{0x1000, check_digits}});
  CHECK(*byte_sum_16(image, {}) == 0x01DD);
  CHECK(*byte_sum_32(image, {}) == 0x01DD);
  const SumRange wide{Segment{0x0800, 0x1000}, std::uint8_t{0xFF}};
  CHECK(*byte_sum_32(image, wide) == 0x01DD + (0x1000 - 9) * 0xFFU);
  CHECK(*byte_sum_16(image, wide) == ((0x01DD + (0x1000 - 9) * 0xFFU) & 0xFFFFU));
  CHECK(*byte_sum_16(image, {Segment{0x1001, 2}, {}}) == '2' + '3');
}

TEST_CASE("a sum over absent bytes without a fill value is refused with the first gap") {
  const SparseImage image = make_image({{0x10, {1, 2}}, {0x20, {3}}});
  const auto sum = byte_sum_16(image, {});
  REQUIRE_FALSE(sum.has_value());
  CHECK(spell(sum.error()) == "image-gap 0:0 14 absent bytes|bytes from 0x10 to 0x20");
  CHECK(sum.error().place.item == "address 0x12");
  CHECK(byte_sum_16(SparseImage(), {}).error().code == "image-empty");
  CHECK(byte_sum_16(image, {Segment{0, longest_summed + 1}, std::uint8_t{0}}).error().code ==
        "image-range");
}

TEST_CASE("raw binary lies at the stated address and is written with stated gaps") {
  const Try<Firmware> raw = read_raw(Bytes{1, 2, 3}, 0x4000, "a.bin");
  REQUIRE(raw.has_value());
  CHECK(raw->image.segments() == std::vector<Segment>{{0x4000, 3}});
  CHECK(raw->image.origin(0x4001)->line == 0);
  CHECK(read_raw(Bytes{1, 2}, ~std::uint64_t{0} - 1, "a.bin").error().code == "raw-past-end");
  CHECK(spell(read_raw(Bytes{}, 0, "a.bin")->notes) == "no-data:1:0");

  const SparseImage image = make_image({{0x10, {1, 2}}, {0x15, {3}}});
  CHECK(*write_raw(image, {{}, std::uint8_t{0xFF}}) == Bytes{1, 2, 0xFF, 0xFF, 0xFF, 3});
  CHECK(*write_raw(image, {Segment{0x0E, 4}, std::uint8_t{0}}) == Bytes{0, 0, 1, 2});
  CHECK(*write_raw(image, {Segment{0x11, 1}, {}}) == Bytes{2});
  CHECK(spell(write_raw(image).error()) == "image-gap 0:0 3 absent bytes|bytes from 0x10 to 0x15");
  const SparseImage apart = make_image({{0, {1}}, {0xFFFFFFFF, {2}}});
  CHECK(spell(write_raw(apart, {{}, std::uint8_t{0}}).error()) ==
        "image-range 0:0 4294967296 bytes from 0x0|at most 1073741824");
}

TEST_CASE("a comparison lists what differs and what only one image holds") {
  const SparseImage a = make_image({{0, {1, 2, 3, 4, 5, 6, 7, 8}}, {0x100, {9}}, {0x200, {1, 1}}});
  const SparseImage b = make_image({{2, {3, 0, 0, 6}}, {8, {1, 2}}, {0x200, {1, 2}}, {0x300, {5}}});
  const Comparison result = compare(a, b);
  CHECK(result.equal_bytes == 3);
  CHECK(result.different_bytes == 3);
  CHECK(result.only_in_a == 5);
  CHECK(result.only_in_b == 3);
  CHECK_FALSE(result.same());
  std::string text;
  for (const DifferentRange& each : result.ranges) {
    text += std::to_string(static_cast<int>(each.what)) + "@" + std::to_string(each.range.address) +
            "+" + std::to_string(each.range.length) + " ";
  }
  CHECK(text == "1@0+2 0@3+2 1@6+2 2@8+2 1@256+1 0@513+1 2@768+1 ");
  CHECK(result.ranges[1].a == Bytes{4, 5});
  CHECK(result.ranges[1].b == Bytes{0, 0});
  CHECK(result.ranges[0].b.empty());
  CHECK(compare(a, a).same());
  CHECK(compare(a, a).equal_bytes == a.size());
}

TEST_CASE("a comparison keeps as many ranges as asked and counts them all") {
  Bytes zeros(100, 0);
  Bytes other(100, 0);
  for (std::size_t at = 0; at < other.size(); at += 2) {
    other[at] = 1;
  }
  const Comparison result = compare(make_image({{0, zeros}}), make_image({{0, other}}), 3);
  CHECK(result.range_count == 50);
  CHECK(result.ranges.size() == 3);
  CHECK(result.ranges[2].range == Segment{4, 1});
  CHECK(result.different_bytes == 50);
  const Comparison one = compare(make_image({{0, zeros}}), make_image({{0, Bytes(100, 1)}}));
  REQUIRE(one.ranges.size() == 1);
  CHECK(one.ranges[0].range == Segment{0, 100});
  CHECK(one.ranges[0].a.size() == bytes_shown);
}

TEST_CASE("merging takes all bytes, notes shared ones and refuses two values, naming both files") {
  const Try<Firmware> a =
      read_intel_hex(bytes_of(record(0, 0, {1, 2, 3}) + "\n" + end_record), "a.hex");
  const Try<Firmware> b = read_intel_hex(
      bytes_of(std::string("\n") + record(2, 0, {3, 4}) + "\n" + end_record), "b.hex");
  const Try<Firmware> c =
      read_intel_hex(bytes_of(record(1, 0, {2, 9}) + "\n" + end_record), "c.hex");
  Notes notes;
  const Try<SparseImage> merged = merge({&a->image, &b->image}, notes);
  REQUIRE(merged.has_value());
  CHECK(to_bytes(merged->image_bytes()) == Bytes{1, 2, 3, 4});
  CHECK(spell(notes) == "same-bytes:1:2");
  CHECK(merged->origin(3)->file == "b.hex");
  CHECK(merged->origin(3)->line == 2);
  CHECK(merge({&b->image, &a->image}, notes)->digest() == merged->digest());
  const Try<SparseImage> conflict = merge({&a->image, &c->image}, notes);
  REQUIRE_FALSE(conflict.has_value());
  CHECK(conflict.error().place.file == "c.hex");
  CHECK(spell(conflict.error()) == "image-conflict 1:0 0x09 on line 1|0x03 in a.hex on line 1");
}

TEST_CASE("cropping keeps the range and the lines, filling writes only absent bytes") {
  const Try<Firmware> file = read(record(0, 0, {0, 1, 2, 3}) + "\n" + record(4, 0, {4, 5, 6, 7}) +
                                  "\n" + record(16, 0, {16}) + "\n" + end_record);
  const SparseImage cropped = crop(file->image, {3, 3});
  CHECK(cropped.segments() == std::vector<Segment>{{3, 3}});
  CHECK(to_bytes(cropped.image_bytes()) == Bytes{3, 4, 5});
  CHECK(cropped.origin(3)->line == 1);
  CHECK(cropped.origin(5)->line == 2);
  CHECK(crop(file->image, {9, 2}).empty());

  const Try<SparseImage> filled = fill(file->image, {6, 12}, 0xFF);
  REQUIRE(filled.has_value());
  CHECK(filled->segments() == std::vector<Segment>{{0, 18}});
  CHECK(filled->at(7) == 7);
  CHECK(filled->at(8) == 0xFF);
  CHECK(filled->at(16) == 16);
  CHECK(filled->origin(8)->file == "fill");
  CHECK(filled->origin(16)->line == 3);
  CHECK(fill(file->image, {0, longest_fill + 1}, 0).error().code == "image-range");
}
