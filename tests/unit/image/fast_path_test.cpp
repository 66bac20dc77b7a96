// Digits are decoded in two ways and usual lines taken on a path of their own: all of them have to
// say the same. And what a file costs in memory follows its bytes and records, whatever it says.
#include <random>

#include <malloc.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "image/hex_digits.h"
#include "image/intel_hex.h"
#include "image/srecord.h"
#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

constexpr char digit_characters[] = "0123456789ABCDEFabcdef";

// Everything that a reader says of a file, the line of every byte included.
std::string report(const Try<Firmware>& result) {
  if (!result) {
    return spell(result.error()) + " " + result.error().place.item;
  }
  std::string out = spell(result->notes) + " " + crypto::hex(result->image.digest());
  for (const Segment& segment : result->image.segments()) {
    for (std::uint64_t address = segment.address; address < segment.end(); ++address) {
      out += " " + std::to_string(result->image.origin(address)->line);
    }
  }
  return out;
}

// A line that comes in pieces is never taken on the fast path.
template <class Reader, class Options>
Try<Firmware> read_in_pieces(const std::string& text, std::size_t size, const Options& options) {
  Reader reader("in", options);
  for (std::size_t at = 0; at < text.size(); at += size) {
    const Bytes piece = to_bytes(bytes_of(text).subspan(at, std::min(size, text.size() - at)));
    if (auto fed = reader.feed(piece); !fed) {
      return Unexpected(std::move(fed).error());
    }
  }
  return reader.finish();
}

SparseImage some_image(std::mt19937& random) {
  std::vector<Part> parts;
  for (std::uint64_t address = random() % 100; parts.size() < 4; address += 40 + random() % 70000) {
    Bytes bytes(1 + random() % 200);
    for (std::uint8_t& byte : bytes) {
      byte = static_cast<std::uint8_t>(random());
    }
    parts.push_back({address, bytes});
    address += bytes.size();
  }
  return make_image(parts);
}

void change(std::string& text, std::mt19937& random) {
  const std::string alphabet = std::string(digit_characters) + ":S \n\r\t\x1A;";
  const std::size_t at = random() % text.size();
  switch (random() % 6) {
  case 0:
    text[at] = static_cast<char>(text[at] ^ (1 << (random() % 8)));
    break;
  case 1:
    text[at] = alphabet[random() % alphabet.size()];
    break;
  case 2:
    text.insert(at, 1, alphabet[random() % alphabet.size()]);
    break;
  case 3:
    text.erase(at, 1 + random() % 3);
    break;
  case 4: { // a line again, elsewhere
    const std::size_t from = text.rfind('\n', at) + 1;
    const std::size_t length = text.find('\n', from) - from;
    const std::size_t to = text.rfind('\n', random() % text.size()) + 1;
    text.insert(to, text.substr(from, length) + "\n");
    break;
  }
  default:
    if (const std::size_t line = text.find('\n', at); line != std::string::npos) {
      text.insert(line, "\r");
    }
  }
}

template <class Reader, class Options>
void compare_paths(const std::string& text) {
  Options options;
  options.allow_missing_end = true;
  options.allow_comments = true;
  const std::string careful = report(read_in_pieces<Reader>(text, 1, options));
  REQUIRE(report(read_in_pieces<Reader>(text, text.size(), options)) == careful);
  REQUIRE(report(read_in_pieces<Reader>(text, 71, options)) == careful);
}

} // namespace

TEST_CASE("digits in pairs and 32 at a time give the same bytes, sum and faults") {
  std::mt19937 random = fixed_random(3);
  for (std::size_t count = 0; count <= 260; ++count) {
    Bytes digits(2 * count); // of exactly this size: the sanitizers see a byte read beyond it
    for (std::uint8_t& digit : digits) {
      digit = static_cast<std::uint8_t>(digit_characters[random() % 22]);
    }
    Bytes fast(count);
    Bytes slow(count);
    std::uint8_t fast_sum = 0;
    std::uint8_t slow_sum = 0;
    REQUIRE(decode_digits_in_pairs(digits.data(), count, slow.data(), slow_sum));
    REQUIRE(decode_digits(digits.data(), count, fast.data(), fast_sum));
    REQUIRE(fast == slow);
    REQUIRE(fast_sum == slow_sum);
    if (count != 0) {
      const std::size_t at = random() % digits.size();
      digits[at] = static_cast<std::uint8_t>("/:@G`g \n"[random() % 8]);
      REQUIRE_FALSE(decode_digits(digits.data(), count, fast.data(), fast_sum));
      REQUIRE_FALSE(decode_digits_in_pairs(digits.data(), count, slow.data(), slow_sum));
    }
  }
}

TEST_CASE("each of the 256 characters in each place is a digit to both decoders or to none") {
  for (std::size_t at = 0; at < 42; ++at) {
    for (unsigned character = 0; character < 256; ++character) {
      Bytes digits(42, '5');
      digits[at] = static_cast<std::uint8_t>(character);
      Bytes fast(21);
      Bytes slow(21);
      std::uint8_t fast_sum = 0;
      std::uint8_t slow_sum = 0;
      const bool good = decode_digits_in_pairs(digits.data(), 21, slow.data(), slow_sum);
      REQUIRE(good == is_hex_digit(digits[at]));
      REQUIRE(decode_digits(digits.data(), 21, fast.data(), fast_sum) == good);
      REQUIRE((!good || (fast == slow && fast_sum == slow_sum)));
    }
  }
}

TEST_CASE("files taken whole and in single characters get one verdict, note for note") {
  std::mt19937 random = fixed_random(5);
  std::size_t changed_files = 0;
  for (int round = 0; round < 150; ++round) {
    const SparseImage image = some_image(random);
    HexWriteOptions hex;
    hex.record_length = static_cast<std::uint32_t>(1 + random() % 40);
    hex.line_end = random() % 2 == 0 ? LineEnd::lf : LineEnd::crlf;
    SRecordWriteOptions srecord;
    srecord.record_length = hex.record_length;
    std::string hex_text(text_of(*write_intel_hex(image, hex)));
    std::string srecord_text(text_of(*write_srecord(image, srecord)));
    for (unsigned changes = random() % 4; changes != 0; --changes) {
      change(hex_text, random);
      change(srecord_text, random);
      ++changed_files;
    }
    compare_paths<IntelHexReader, HexReadOptions>(hex_text);
    compare_paths<SRecordReader, SRecordReadOptions>(srecord_text);
  }
  CHECK(changed_files > 150);
}

#ifndef CARDSEAL_SANITIZED
namespace {

// Bytes of memory that reading `text` takes at its highest, measured in a process of its own.
std::uint64_t memory_to_read(const std::string& text) {
  ::malloc_trim(0); // what is free already would not count
  int ends[2];
  REQUIRE(::pipe(ends) == 0);
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    rusage before{};
    rusage after{};
    (void)::getrusage(RUSAGE_SELF, &before);
    const bool good = read_intel_hex(bytes_of(text), "in.hex").has_value();
    (void)::getrusage(RUSAGE_SELF, &after);
    const std::uint64_t grown =
        good ? static_cast<std::uint64_t>(after.ru_maxrss - before.ru_maxrss) * 1024 : 0;
    ::_exit(::write(ends[1], &grown, sizeof grown) == sizeof grown ? 0 : 1);
  }
  std::uint64_t grown = 0;
  CHECK(::read(ends[0], &grown, sizeof grown) == sizeof grown);
  int status = 1;
  CHECK(::waitpid(child, &status, 0) == child);
  CHECK(status == 0);
  ::close(ends[0]);
  ::close(ends[1]);
  return grown;
}

std::string base_record(std::uint32_t upper) {
  return record(0, 4, {static_cast<std::uint8_t>(upper >> 8), static_cast<std::uint8_t>(upper)}) +
         "\n";
}

constexpr std::uint64_t a_record = 32;                  // image/image_builder.h: a piece
constexpr std::uint64_t a_segment = 24;                 // and a segment
constexpr std::uint64_t slack = std::uint64_t{4} << 20; // huge pages, the C library's own

} // namespace

TEST_CASE("memory is the bytes, 32 bytes a record and 24 a segment, wherever the bytes lie") {
  constexpr std::uint32_t count = 100000;
  std::string text;
  text.reserve(std::size_t{30} * count);
  for (std::uint32_t index = 0; index < count; ++index) {
    if (index % 4 == 0) {
      text += base_record((index % 65521) ^ 0x5555);
    }
    text += record((index % 4) * 0x3000U + index / 65521 * 2, 0, {0x55}) + "\n";
  }
  const std::uint64_t memory = memory_to_read(text + end_record);
  CHECK(memory > count * a_record); // it was measured at all
  CHECK(memory < count * (2 + a_record + a_segment) + slack);
}

TEST_CASE("shuffled records take twice their bytes and 32 bytes each") {
  std::mt19937 random = fixed_random(6);
  std::vector<std::string> lines;
  constexpr std::uint32_t count = 20480;
  for (std::uint32_t index = 0; index < count; ++index) {
    lines.push_back(base_record(index >> 8) +
                    record((index & 0xFF) << 8, 0, Bytes(128, static_cast<std::uint8_t>(index))) +
                    "\n");
  }
  std::shuffle(lines.begin(), lines.end(), random);
  std::string text;
  for (const std::string& line : lines) {
    text += line;
  }
  const std::uint64_t memory = memory_to_read(text + end_record);
  CHECK(memory > count * std::uint64_t{128});
  CHECK(memory < count * (2 * 128 + a_record + a_segment) + slack);
}

TEST_CASE("two bytes 4 GiB apart take no memory to speak of") {
  const std::string text =
      record(0, 0, {1}) + "\n" + base_record(0xFFFF) + record(0xFFFF, 0, {2}) + "\n" + end_record;
  CHECK(memory_to_read(text) < (std::uint64_t{1} << 20));
}
#endif
