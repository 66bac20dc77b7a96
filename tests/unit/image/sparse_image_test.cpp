#include "image/sparse_image.h"

#include "image/image_builder.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

TEST_CASE("two bytes 4 GiB apart are two segments and two bytes") {
  const SparseImage image = make_image({{0x100000000, {2}}, {0, {1}}});
  CHECK(image.segments() == std::vector<Segment>{{0, 1}, {0x100000000, 1}});
  CHECK(to_bytes(image.image_bytes()) == Bytes{1, 2});
  CHECK(image.pieces().size() == 2);
}

TEST_CASE("a byte written with the erased value is there, an unwritten one is not") {
  const SparseImage image = make_image({{0x10, {0xFF, 0x00}}});
  CHECK(image.at(0x10) == 0xFF);
  CHECK(image.at(0x11) == 0x00);
  CHECK_FALSE(image.at(0x0F).has_value());
  CHECK_FALSE(image.at(0x12).has_value());
  CHECK(image.from(0x11).size() == 1);
  CHECK(image.from(0x12).empty());
}

TEST_CASE("runs that touch are one segment and runs one byte apart are two") {
  CHECK(make_image({{4, {5}}, {0, {1, 2, 3, 4}}}).segments() == std::vector<Segment>{{0, 5}});
  CHECK(make_image({{5, {5}}, {0, {1, 2, 3, 4}}}).segments() ==
        std::vector<Segment>{{0, 4}, {5, 1}});
}

// The bytes that are hashed are written out here by hand; sha256sum (coreutils) gives
// printf '\0\0\0\0\0\0\0\20\0\0\0\0\0\0\0\2ab\0\0\0\1\0\0\0\0\0\0\0\0\0\0\0\1c' | sha256sum
TEST_CASE("the digest covers each segment's address, length and bytes") {
  const SparseImage image = make_image({{0x10, {'a', 'b'}}, {0x100000000, {'c'}}});
  CHECK(crypto::hex(image.digest()) ==
        "8b508d22ed9dd1f46a475aa1cd6fdedac15948fd3376e13c7ea097c4f88064d0");
  // Nothing at all: FIPS 180-4's empty message.
  CHECK(crypto::hex(SparseImage().digest()) ==
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("every byte knows its file and line, also after an overlap was cut") {
  ImageBuilder builder;
  const std::uint16_t a = builder.add_file("a.hex");
  const std::uint16_t b = builder.add_file("b.hex");
  builder.add(0, Bytes{0, 1, 2, 3}, a, 1);
  builder.add(4, Bytes{4, 5, 6, 7}, a, 2);
  builder.add(8, Bytes{8, 9}, a, 3);
  builder.add(10, Bytes{10}, a, 4);
  builder.add(9, Bytes{9, 10, 11}, b, 70); // two bytes that are there already, one new
  builder.add(12, Bytes{12, 13, 14}, b, 71);
  Notes notes;
  const SparseImage image = builder.finish(notes).value();
  CHECK(spell(notes) == "same-bytes:2:70");
  const std::vector<std::uint32_t> lines{1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 70, 70, 71, 71, 71};
  for (std::uint64_t address = 0; address < lines.size(); ++address) {
    INFO(address);
    CHECK(image.at(address) == address);
    CHECK(image.origin(address)->line == lines[address]);
    CHECK(image.origin(address)->file == (address < 10 ? "a.hex" : "b.hex"));
  }
  CHECK_FALSE(image.origin(15).has_value());
}

TEST_CASE("an overlap that starts inside a line keeps the lines of what is left") {
  ImageBuilder builder;
  const std::uint16_t file = builder.add_file("a.hex");
  builder.add(2, Bytes{2, 3, 4, 5}, file, 10); // four bytes a line
  builder.add(6, Bytes{6, 7, 8, 9}, file, 11);
  builder.add(0, Bytes{0, 1, 2}, file, 12); // comes first in the image
  Notes notes;
  const SparseImage image = builder.finish(notes).value();
  const std::vector<std::uint32_t> lines{12, 12, 12, 10, 10, 10, 11, 11, 11, 11};
  for (std::uint64_t address = 0; address < lines.size(); ++address) {
    INFO(address);
    CHECK(image.origin(address)->line == lines[address]);
  }
}

TEST_CASE("in-order records of one length are one piece, whatever their number") {
  ImageBuilder builder;
  const std::uint16_t file = builder.add_file("a.hex");
  for (std::uint32_t line = 1; line <= 10000; ++line) {
    builder.add((line - 1) * 16ULL, Bytes(16, 0x55), file, line);
  }
  Notes notes;
  const SparseImage image = builder.finish(notes).value();
  CHECK(image.pieces().size() == 1);
  CHECK(image.origin(159999)->line == 10000);
}

TEST_CASE("of two conflicting lines the later one is found and the earlier one expected") {
  for (const bool low_first : {true, false}) {
    ImageBuilder builder;
    const std::uint16_t file = builder.add_file("a.hex");
    const Bytes low{1, 2, 3};
    const Bytes high{9, 4};
    builder.add(low_first ? 0 : 2, low_first ? low : high, file, 5);
    builder.add(low_first ? 2 : 0, low_first ? high : low, file, 6);
    Notes notes;
    const Try<SparseImage> image = builder.finish(notes);
    REQUIRE_FALSE(image.has_value());
    CHECK(spell(image.error()) == (low_first ? "image-conflict 6:0 0x09 on line 6|0x03 on line 5"
                                             : "image-conflict 6:0 0x03 on line 6|0x09 on line 5"));
    CHECK(image.error().place.item == "address 0x2");
  }
}
