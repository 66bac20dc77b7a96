#include <algorithm>
#include <random>

#include "image/intel_hex.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

std::string text_with_records(std::mt19937& random, std::vector<std::string>& records) {
  std::uint32_t offset = 0;
  while (records.size() < 40) {
    Bytes data(1 + random() % 20);
    for (std::uint8_t& byte : data) {
      byte = static_cast<std::uint8_t>(random());
    }
    offset += static_cast<std::uint32_t>(random() % 3 == 0 ? random() % 50 : 0);
    records.push_back(record(offset, 0, data) + "\n");
    offset += static_cast<std::uint32_t>(data.size());
  }
  std::string text;
  for (const std::string& each : records) {
    text += each;
  }
  return text + end_record;
}

// A record that is accepted must be of the right form: the image's own bookkeeping holds.
bool is_sound(const SparseImage& image) {
  std::uint64_t total = 0;
  std::uint64_t end = 0;
  for (const Segment& segment : image.segments()) {
    if (segment.length == 0 || (total != 0 && segment.address <= end)) {
      return false;
    }
    total += segment.length;
    end = segment.end();
  }
  return total == image.size() && end <= 0x100000000;
}

} // namespace

TEST_CASE("the order of records never changes the digest") {
  std::mt19937 random = fixed_random(7);
  for (int round = 0; round < 200; ++round) {
    std::vector<std::string> records;
    const Try<Firmware> ordered = read(text_with_records(random, records));
    REQUIRE(verdict(ordered) == "accepted");
    std::shuffle(records.begin(), records.end(), random);
    std::string shuffled;
    for (const std::string& each : records) {
      shuffled += each;
    }
    const Try<Firmware> result = read(shuffled + end_record);
    REQUIRE(verdict(result) == "accepted");
    CHECK(result->image.digest() == ordered->image.digest());
    CHECK(result->image.segments() == ordered->image.segments());
    CHECK(to_bytes(result->image.image_bytes()) == to_bytes(ordered->image.image_bytes()));
    CHECK(result->notes.find(note::out_of_order) != nullptr);
  }
}

// One flipped bit changes one digit, which the record's sum notices, or breaks the form.
TEST_CASE("no single flipped bit is accepted with another digest") {
  std::mt19937 random = fixed_random(11);
  std::vector<std::string> records;
  const std::string text = text_with_records(random, records);
  const crypto::Digest digest = read(text)->image.digest();
  std::size_t accepted = 0;
  for (std::size_t bit = 0; bit < text.size() * 8; ++bit) {
    std::string flipped = text;
    flipped[bit / 8] = static_cast<char>(flipped[bit / 8] ^ (1 << (bit % 8)));
    const Try<Firmware> result = read(flipped);
    if (result) {
      ++accepted;
      CHECK(result->image.digest() == digest);
    }
  }
  // The case of a letter, and line ends that become others: far from all.
  CHECK(accepted > 0);
  CHECK(accepted < text.size());
}

TEST_CASE("no truncation is accepted, but for the last line end") {
  std::mt19937 random = fixed_random(12);
  std::vector<std::string> records;
  const std::string text = text_with_records(random, records);
  for (std::size_t length = 0; length + 1 < text.size(); ++length) {
    CHECK_FALSE(read(text.substr(0, length)).has_value());
  }
  CHECK(read(text.substr(0, text.size() - 1)).has_value());
}

// Several changes can cancel out in a sum of 8 bits, so that an altered file can be a right file of
// another image. What is claimed: no crash, an error with a place, or a sound image.
TEST_CASE("20,000 files changed in several places give an error with a place or a sound image") {
  std::mt19937 random = fixed_random(13);
  std::vector<std::string> records;
  const std::string text = text_with_records(random, records);
  const std::string alphabet = ":0123456789ABCDEFabcdef \n\r\t\x1A\xEF;S";
  std::size_t refused = 0;
  for (int round = 0; round < 20000; ++round) {
    std::string changed = text;
    for (unsigned change = 1 + random() % 4; change != 0; --change) {
      const std::size_t at = random() % changed.size();
      const char other = alphabet[random() % alphabet.size()];
      switch (random() % 5) {
      case 0:
        changed[at] = static_cast<char>(changed[at] ^ (1 << (random() % 8)));
        break;
      case 1:
        changed[at] = other;
        break;
      case 2:
        changed.insert(at, 1, other);
        break;
      case 3:
        changed.erase(at, 1 + random() % 50);
        break;
      default:
        changed.resize(at + 1);
      }
      changed += changed.empty() ? "\n" : "";
    }
    HexReadOptions options;
    options.allow_missing_end = random() % 2 == 0;
    options.allow_comments = random() % 2 == 0;
    const Try<Firmware> result = read(changed, options);
    if (result) {
      REQUIRE(is_sound(result->image));
    } else {
      ++refused;
      REQUIRE(result.error().kind == ErrorKind::bad_data);
      REQUIRE(result.error().place.line > 0);
    }
  }
  CHECK(refused > 10000);
}
