// Sums as stations show them and as programming specifications print them.
#include <vector>

#include "image/device_sum.h"
#include "image/image_builder.h"
#include "support.h"

using namespace cardseal;
using namespace cardseal::image;

namespace {

SparseImage image_of(const std::vector<std::pair<std::uint64_t, std::vector<std::uint8_t>>>& runs) {
  ImageBuilder builder;
  const std::uint16_t file = builder.add_file("a");
  for (const auto& [address, bytes] : runs) {
    builder.add(address, bytes, file, 1);
  }
  Notes notes;
  Try<SparseImage> image = builder.finish(notes);
  REQUIRE(image);
  return std::move(*image);
}

// Words of 14 bits: two bytes each, low byte first, blank 3FFF.
MaskedWords words_14(std::uint64_t first_word, std::uint64_t count, std::uint32_t mask) {
  return {{{first_word * 2, count * 2}, 0x3FFF, 2}, mask};
}

std::vector<std::uint8_t> word(std::uint32_t value) {
  return {static_cast<std::uint8_t>(value), static_cast<std::uint8_t>(value >> 8)};
}

struct Part14 { // of a programming specification
  const char* name;
  std::uint64_t words;
  std::vector<MaskedWords> configuration;
  std::uint32_t blank;   // as printed
  std::uint32_t value;   // the word at the first and last location
  std::uint32_t pattern; // as printed; 0: not printed
};

std::uint32_t sum_of(const Part14& part, const SparseImage& image) {
  std::vector<MaskedWords> memory{words_14(0, part.words, 0x3FFF)};
  memory.insert(memory.end(), part.configuration.begin(), part.configuration.end());
  return *device_sum_16(image, memory);
}

// PIC18F6720: configuration bytes and the bits that gputils' p18f6720.inc gives options for.
std::vector<MaskedWords> pic18f6720() {
  struct Byte {
    std::uint32_t address;
    std::uint32_t mask;
  };
  constexpr Byte bytes[] = {{0x300001, 0x27}, {0x300002, 0x0F}, {0x300003, 0x0F}, {0x300005, 0x01},
                            {0x300006, 0x85}, {0x300008, 0xFF}, {0x300009, 0xC0}, {0x30000A, 0xFF},
                            {0x30000B, 0xE0}, {0x30000C, 0xFF}, {0x30000D, 0x40}};
  std::vector<MaskedWords> memory{{{{0, 0x20000}, 0xFF, 1}, 0xFF}};
  for (const Byte& byte : bytes) {
    memory.push_back({{{byte.address, 1}, 0xFF, 1}, byte.mask});
  }
  return memory;
}

} // namespace

// Sums printed for a blank part and for one word at the first and the last location:
//   PIC16F1459, PIC16LF1459   DS41620C pages 28-29: masks 3EFF and 3FF3
//   PIC12F615, PIC16F616      DS41396A page 22: mask 03FF
// Sizes and places of the words: gputils, lkr/<part>_g.lkr.
TEST_CASE("14-bit parts give the sums that their programming specifications print") {
  const std::vector<MaskedWords> two{words_14(0x8007, 1, 0x3EFF), words_14(0x8008, 1, 0x3FF3)};
  const std::vector<MaskedWords> one{words_14(0x2007, 1, 0x03FF)};
  const Part14 parts[] = {
      {"PIC16F1459", 0x2000, two, 0x5EF2, 0, 0},
      {"PIC16LF1459", 0x2000, two, 0x5EF2, 0x00AA, 0xE048},
      {"PIC12F615", 0x400, one, 0xFFFF, 0x25E6, 0xCBCD},
      {"PIC16F616", 0x800, one, 0xFBFF, 0x25E6, 0xC7CD},
  };
  for (const Part14& part : parts) {
    INFO(part.name);
    CHECK(sum_of(part, image_of({})) == part.blank);
    if (part.pattern != 0) {
      CHECK(sum_of(part, image_of({{0, word(part.value)},
                                   {part.words * 2 - 2, word(part.value)}})) == part.pattern);
    }
  }
}

// DS39583C page 34: bytes, masked configuration; AA at the first and the last location.
TEST_CASE("the PIC18F6720 gives the sums that its programming specification prints") {
  CHECK(*device_sum_16(image_of({}), pic18f6720()) == 0x05A8);
  CHECK(*device_sum_16(image_of({{0, {0xAA}}, {0x1FFFF, {0xAA}}}), pic18f6720()) == 0x04FE);
}

TEST_CASE("configuration words that the image holds count instead of blank ones, masked") {
  const std::vector<MaskedWords> memory{words_14(0, 2, 0x3FFF), words_14(0x8007, 1, 0x3EFF)};
  CHECK(*device_sum_16(image_of({{0x1000E, word(0x3F84)}}), memory) ==
        ((2 * 0x3FFF + 0x3E84) & 0xFFFF));
}

TEST_CASE("a sum by byte masks each byte of a word and adds them one by one") {
  const MaskedWords memory[] = {{{{0, 8}, 0xFFFFFF, 4}, 0xFFFFFF, true},
                                {{{0x100, 4}, 0xFFFFFF, 4}, 0x0F0017, true}};
  CHECK(*device_sum_16(image_of({{0, {1, 2, 3, 0}}}), memory) ==
        1 + 2 + 3 + 3 * 0xFF + 0x17 + 0x0F);
}

TEST_CASE("half a word is completed by the other half of a blank one") {
  const std::vector<MaskedWords> memory{words_14(0, 2, 0x3FFF)};
  CHECK(*device_sum_16(image_of({{2, {0x34}}}), memory) == 0x3FFF + 0x3F34);
  CHECK(*device_sum_16(image_of({{1, {0x12}}}), memory) == 0x12FF + 0x3FFF);
}

TEST_CASE("a blank range repeats its word from its own start, also behind bytes that are there") {
  const SparseImage image = image_of({{0x1003, {0xAA}}, {0x2801, {0xBB}}});
  std::vector<std::uint8_t> walked;
  walk_blank(image, {{0x1001, 0x3000}, 0xC0FFEE, 4},
             [&](ByteView bytes) { walked.insert(walked.end(), bytes.begin(), bytes.end()); });
  constexpr std::uint8_t blank[] = {0xEE, 0xFF, 0xC0, 0x00};
  REQUIRE(walked.size() == 0x3000);
  for (std::size_t i = 0; i < walked.size(); ++i) {
    const std::uint8_t expected = i == 2 ? 0xAA : i == 0x1800 ? 0xBB : blank[i % 4];
    if (walked[i] != expected) {
      INFO(i);
      CHECK(walked[i] == expected);
    }
  }
}

// CRC catalogue and 0x01DD, as in range_test.cpp; here over two ranges with the digits cut in two.
TEST_CASE("a sum goes over several ranges as over their bytes one after the other") {
  const SparseImage image = image_of({{0x10, {'1', '2', '3', '4'}}, {0x900, {'6', '7', '8', '9'}}});
  const BlankRange ranges[] = {{{0x10, 5}, '5', 1}, {{0x900, 4}, 0xFF, 1}};
  for (const CrcModel& model : crc_models) {
    INFO(model.name);
    CHECK(*sum_over(image, *find_sum(model.name), ranges) == model.check);
  }
  CHECK(*sum_over(image, *find_sum("byte-sum-16"), ranges) == 0x01DD);
  CHECK(*sum_over(image, *find_sum("byte-sum-32"), ranges) == 0x01DD);
  CHECK(sum_over(image, *find_sum("word-sum-16-le"), ranges).error().code == "sum-odd");
  const BlankRange even[] = {{{0x10, 4}, 0, 1}};
  CHECK(*sum_over(image, *find_sum("word-sum-16-le"), even) == 0x3231 + 0x3433);
  CHECK(*sum_over(image, *find_sum("word-sum-16-be"), even) == 0x3132 + 0x3334);
}

TEST_CASE("a checksum is named by the catalogue, by parameters, or not at all") {
  CHECK_FALSE(find_sum("CCITT"));
  CHECK_FALSE(find_sum("byte-sum"));
  REQUIRE(find_sum("16/3d65/ffff/r/0000"));
  CHECK(find_sum("16/3d65/ffff/r/0000")->digits() == 4);
  CHECK(find_sum("byte-sum-32")->digits() == 8);
}

TEST_CASE("a sum over more memory than there is time for is refused") {
  const BlankRange ranges[] = {{{0, longest_summed}, 0xFF, 1}, {{0, 1}, 0xFF, 1}};
  CHECK(sum_over(image_of({}), *find_sum("byte-sum-16"), ranges).error().code == "image-range");
}
