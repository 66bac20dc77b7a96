// One byte form: whatever is accepted is spelled again to the very bytes that were read.
#include "support/sealed_examples.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

struct Tally {
  std::size_t refused = 0;
  std::size_t canonical = 0;
};

template <class T>
void take(const std::string& text, Tally& tally) {
  const Taken taken = taken_as<T>(text);
  tally.refused += taken == Taken::refused ? 1 : 0;
  tally.canonical += taken == Taken::canonical ? 1 : 0;
  if (taken == Taken::other) {
    INFO(text);
    FAIL("accepted, but not in the one form");
  }
}

} // namespace

TEST_CASE("every single-bit flip of a text is refused or another text in its one form") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string text = example_of<T>();
    Tally tally;
    for (std::size_t i = 0; i < text.size(); ++i) {
      for (unsigned bit = 0; bit < 8; ++bit) {
        std::string flipped = text;
        flipped[i] = static_cast<char>(flipped[i] ^ (1U << bit));
        take<T>(flipped, tally);
      }
    }
    CHECK(tally.refused + tally.canonical == 8 * text.size());
    CHECK(tally.refused > 5 * text.size()); // case, sign and every bit of keys and punctuation
    CHECK(tally.canonical > 0);             // digits of numbers and digests
  });
}

TEST_CASE("every byte left out, doubled or put in is refused or in the one form") {
  const std::string put_in = std::string(" -0a\"\\\t\r\n", 9) + '\0' + "\xEF";
  for_each_kind([&](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string text = example_of<T>();
    Tally tally;
    for (std::size_t i = 0; i < text.size(); ++i) {
      take<T>(std::string(text).erase(i, 1), tally);
      take<T>(std::string(text).insert(i, 1, text[i]), tally);
      for (const char c : put_in) {
        take<T>(std::string(text).insert(i, 1, c), tally);
      }
      take<T>(std::string(text).insert(i, "\xEF\xBB\xBF"), tally);
    }
    CHECK(tally.refused + tally.canonical == (put_in.size() + 3) * text.size());
  });
}

TEST_CASE("a text cut short anywhere, or with any byte after it, is refused") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string text = example_of<T>();
    for (std::size_t size = 0; size < text.size(); ++size) {
      REQUIRE_FALSE(decoded<T>(text.substr(0, size)).ok());
    }
    for (int byte = 0; byte < 256; ++byte) {
      REQUIRE_FALSE(decoded<T>(text + static_cast<char>(byte)).ok());
      REQUIRE_FALSE(decoded<T>(static_cast<char>(byte) + text).ok());
    }
  });
}

TEST_CASE("every line left out, doubled or changed with the next is refused") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::vector<std::string> lines = lines_of(example_of<T>());
    for (std::size_t i = 0; i < lines.size(); ++i) {
      std::vector<std::string> other = lines;
      other.erase(other.begin() + static_cast<std::ptrdiff_t>(i));
      INFO(lines[i]);
      CHECK_FALSE(decoded<T>(joined(other)).ok());
      other = lines;
      other.insert(other.begin() + static_cast<std::ptrdiff_t>(i), lines[i]);
      CHECK_FALSE(decoded<T>(joined(other)).ok());
      other = lines;
      if (i + 1 < lines.size()) {
        std::swap(other[i], other[i + 1]);
        CHECK_FALSE(decoded<T>(joined(other)).ok());
      }
    }
  });
}

TEST_CASE("encode refuses what would not be read, and a room too small") {
  format::Manifest manifest;
  REQUIRE(format::decode(bytes_of(example_of<format::Manifest>()), manifest).ok());
  REQUIRE_FALSE(encoded(manifest).empty());
  format::Manifest bad = manifest;
  bad.sequence = 0;
  CHECK(encoded(bad).empty());
  bad = manifest;
  bad.title.set("Frost \"alarm\"");
  CHECK(encoded(bad).empty());
  bad = manifest;
  bad.device_id.value.size = 9;
  CHECK(encoded(bad).empty());
  bad = manifest;
  bad.erase = static_cast<format::Erase>(7);
  CHECK(encoded(bad).empty());
  bad = manifest;
  std::swap(bad.segments.items[0], bad.segments.items[1]);
  CHECK(encoded(bad).empty());

  const std::size_t size = encoded(manifest).size();
  for (const std::size_t room : {std::size_t{0}, std::size_t{1}, size - 1}) {
    std::vector<std::uint8_t> out(room);
    Outcome outcome;
    CHECK(format::encode(manifest, out, outcome) == 0);
    CHECK(outcome.fault == Fault::text_too_long);
  }
  std::vector<std::uint8_t> out(size);
  Outcome outcome;
  CHECK(format::encode(manifest, out, outcome) == size);
}
