// Files written here byte by byte from the tables of the System V gABI, chapters 4 and 5, in both
// classes and byte orders. What programs of real toolchains come to is in tests/firmware and
// tests/e2e/converters.py.
#include "image/elf.h"

#include <random>

#include "support/catch.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

struct Header { // of a program or a section
  std::uint32_t type = 1;
  std::uint64_t flags = 0;
  std::uint64_t address = 0; // virtual
  std::uint64_t physical = 0;
  std::uint64_t offset = 0;
  std::uint64_t size = 0;
  std::uint64_t memory = 0;
  std::uint32_t name = 0;
};

constexpr std::uint64_t alloc = 2;
constexpr std::uint32_t progbits = 1;
constexpr std::uint32_t strtab = 3;
constexpr std::uint32_t nobits = 8;

Header segment(std::uint64_t physical, std::uint64_t offset, std::uint64_t size,
               std::uint64_t address = ~0ULL) {
  return {1, 0, address == ~0ULL ? physical : address, physical, offset, size, size, 0};
}
Header section(std::uint64_t address, std::uint64_t offset, std::uint64_t size,
               std::uint32_t type = progbits, std::uint64_t flags = alloc) {
  return {type, flags, address, 0, offset, size, 0, 1};
}

struct Kind {
  bool wide = false;
  bool big = false;
};

struct ElfMaker {
  Kind kind;
  std::uint16_t type = 2;
  std::uint64_t entry = 0;
  std::vector<Header> segments;
  std::vector<Header> sections; // one of names is added
  std::uint64_t body_size = 64; // bytes at `body`, counting up from 1
  Bytes out;

  std::uint64_t head() const { return kind.wide ? 64 : 52; }
  std::uint64_t body() const { return head() + segments.size() * (kind.wide ? 56 : 32); }

  void put(std::uint64_t value, unsigned bytes) {
    for (unsigned at = 0; at < bytes; ++at) {
      const unsigned shift = 8 * (kind.big ? bytes - 1 - at : at);
      out.push_back(static_cast<std::uint8_t>(value >> shift));
    }
  }
  void word(std::uint64_t value) { put(value, kind.wide ? 8 : 4); }

  Bytes make() {
    out = {0x7F,
           'E',
           'L',
           'F',
           static_cast<std::uint8_t>(kind.wide ? 2 : 1),
           static_cast<std::uint8_t>(kind.big ? 2 : 1),
           1};
    out.resize(16);
    const std::uint64_t names = body() + body_size;
    const bool any = !sections.empty();
    put(type, 2);
    put(40, 2);
    put(1, 4);
    word(entry);
    word(segments.empty() ? 0 : head());
    word(any ? names + 8 : 0);
    put(0, 4);
    put(head(), 2);
    put(kind.wide ? 56 : 32, 2);
    put(segments.size(), 2);
    put(kind.wide ? 64 : 40, 2);
    put(any ? sections.size() + 2 : 0, 2);
    put(any ? sections.size() + 1 : 0, 2);
    for (const Header& each : segments) {
      put_segment(each);
    }
    for (std::uint64_t at = 0; at < body_size; ++at) {
      out.push_back(static_cast<std::uint8_t>(at + 1));
    }
    if (any) {
      const std::string strings("\0.code\0\0", 8);
      out.insert(out.end(), strings.begin(), strings.end());
      put_section({0, 0, 0, 0, 0, 0, 0, 0});
      for (const Header& each : sections) {
        put_section(each);
      }
      put_section(section(0, names, 8, strtab, 0));
    }
    return out;
  }

  void put_segment(const Header& each) {
    put(each.type, 4);
    if (kind.wide) {
      put(5, 4);
    }
    word(each.offset);
    word(each.address);
    word(each.physical);
    word(each.size);
    word(each.memory);
    if (!kind.wide) {
      put(5, 4);
    }
    word(4);
  }
  void put_section(const Header& each) {
    put(each.name, 4);
    put(each.type, 4);
    word(each.flags);
    word(each.address);
    word(each.offset);
    word(each.size);
    put(0, 8);
    word(1);
    word(0);
  }
};

std::string judged(const Bytes& bytes, const ElfReadOptions& options = {}) {
  const Try<Firmware> result = read_elf(bytes, "in.elf", options);
  return result ? spell(result->notes) : spell(result.error());
}

Bytes counting(std::uint8_t first, std::size_t count) {
  Bytes out(count);
  std::iota(out.begin(), out.end(), first);
  return out;
}

// Two segments, each with a section of its own.
ElfMaker two_segments(Kind kind = {}) {
  ElfMaker elf;
  elf.kind = kind;
  elf.segments.resize(2);
  const std::uint64_t body = elf.body();
  elf.segments = {segment(0x8000, body, 16), segment(0x9000, body + 16, 8, 0x20000000)};
  elf.sections = {section(0x8000, body, 16), section(0x20000000, body + 16, 8),
                  section(0x20000008, body + 24, 4000, nobits)};
  return elf;
}

const SparseImage& two_images() {
  static const SparseImage image =
      make_image({{0x8000, counting(1, 16)}, {0x9000, counting(17, 8)}});
  return image;
}

} // namespace

TEST_CASE("load segments lie at physical addresses, in both classes and byte orders") {
  for (const Kind kind :
       {Kind{false, false}, Kind{false, true}, Kind{true, false}, Kind{true, true}}) {
    ElfMaker elf = two_segments(kind);
    elf.entry = kind.wide ? 0x123456789ABCULL : 0x8001;
    const Try<Firmware> result = read_elf(elf.make(), "in.elf");
    REQUIRE(verdict(result) == "accepted");
    CHECK(result->image.digest() == two_images().digest());
    CHECK(result->start == StartAddress{StartKind::linear, elf.entry, 0});
    CHECK(result->elf_mode == ElfMode::sections);
    CHECK(spell(result->notes).empty());
    const Try<Firmware> by_segments = read_elf(elf.make(), "in.elf", {ElfMode::segments, 1});
    CHECK(by_segments->image.digest() == two_images().digest());
    elf.sections.clear();
    const Try<Firmware> stripped = read_elf(elf.make(), "in.elf");
    REQUIRE(verdict(stripped) == "accepted");
    CHECK(stripped->elf_mode == ElfMode::segments);
    CHECK(stripped->image.digest() == two_images().digest());
  }
}

TEST_CASE("no start address is an entry point of 0") {
  CHECK_FALSE(read_elf(two_segments().make(), "in.elf")->start.has_value());
}

TEST_CASE("64-bit addresses are kept up to the last one") {
  ElfMaker elf;
  elf.kind.wide = true;
  elf.segments = {segment(0xFFFFFFFFFFFFFFF0, 120, 15)};
  const Try<Firmware> result = read_elf(elf.make(), "in.elf");
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.segments() == std::vector<Segment>{{0xFFFFFFFFFFFFFFF0, 15}});
  elf.segments = {segment(0xFFFFFFFFFFFFFFF0, 120, 16)};
  CHECK(judged(elf.make()) ==
        "elf-past-end 0:0 16 bytes at 0xFFFFFFFFFFFFFFF0|0xFFFFFFFFFFFFFFFE at most");
  ElfMaker narrow;
  narrow.segments = {segment(0xFFFFFFF0, 84, 16)};
  CHECK(judged(narrow.make()).empty());
  narrow.segments = {segment(0xFFFFFFF0, 84, 17)};
  CHECK(judged(narrow.make()) == "elf-past-end 0:0 17 bytes at 0xFFFFFFF0|0xFFFFFFFF at most");
}

TEST_CASE("a segment that covers the file's headers gives only what lies behind them") {
  for (const bool wide : {false, true}) {
    ElfMaker elf;
    elf.kind.wide = wide;
    elf.segments.resize(1);
    const std::uint64_t body = elf.body();
    elf.segments = {segment(0x10000, 0, body + 20)};
    const SparseImage expected = make_image({{0x10000 + body, counting(1, 20)}});
    CHECK(read_elf(elf.make(), "in.elf")->image.digest() == expected.digest());
    elf.sections = {section(0x10000 + body, body, 20)};
    CHECK(read_elf(elf.make(), "in.elf")->image.digest() == expected.digest());
    CHECK(judged(elf.make()).empty());
    // A section that lies over the header makes it part of the program.
    elf.sections = {section(0x10000, 0, body + 20)};
    CHECK(read_elf(elf.make(), "in.elf")->image.segments() ==
          std::vector<Segment>{{0x10000, body + 20}});
    CHECK(read_elf(elf.make(), "in.elf", {ElfMode::segments, 1})->image.size() == body + 20);
  }
}

TEST_CASE("zero bytes between sections are padding and noted, others are refused") {
  ElfMaker elf;
  elf.segments.resize(1);
  const std::uint64_t body = elf.body();
  elf.segments = {segment(0, body, 24)};
  elf.sections = {section(0, body, 10), section(16, body + 16, 8)};
  CHECK(judged(elf.make()) ==
        "elf-uncovered 0:0 0x0B at file offset 0x5E|zero bytes, as padding is");
  CHECK(read_elf(elf.make(), "in.elf", {ElfMode::segments, 1})->image.size() == 24);
  Bytes bytes = elf.make();
  std::fill_n(bytes.begin() + static_cast<std::ptrdiff_t>(body) + 10, 6, std::uint8_t{0});
  const Try<Firmware> result = read_elf(bytes, "in.elf");
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "segment-padding:6:0");
  CHECK(result->image.segments() == std::vector<Segment>{{0, 10}, {16, 8}});
}

TEST_CASE("without program headers the sections lie at their own addresses") {
  ElfMaker elf;
  elf.sections = {section(0x100, 52, 8), section(0x200, 60, 4, progbits, 0),
                  section(0x300, 64, 500, nobits)};
  const Try<Firmware> result = read_elf(elf.make(), "in.elf");
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.segments() == std::vector<Segment>{{0x100, 8}});
  CHECK(judged(elf.make(), {ElfMode::segments, 1}) ==
        "elf-no-segments 0:0 sections only|load segments");
}

TEST_CASE("addresses of words become addresses of bytes") {
  ElfMaker elf;
  elf.entry = 0x101;
  elf.segments.resize(1);
  const std::uint64_t body = elf.body();
  elf.segments = {segment(0x100, body, 12)};
  elf.sections = {section(0x100, body, 4), section(0x102, body + 4, 8)};
  const Try<Firmware> result = read_elf(elf.make(), "in.elf", {{}, 2});
  REQUIRE(verdict(result) == "accepted");
  CHECK(result->image.digest() == make_image({{0x200, counting(1, 12)}}).digest());
  CHECK(result->start->value == 0x202);
  // The same file with addresses of bytes: its second section is not where its segment says.
  CHECK(judged(elf.make()) == "elf-unloaded 0:0 address 0x102, file offset 0x58|"
                              "a load segment with both");
  CHECK(judged(elf.make(), {{}, 0}) == "elf-unit 0:0 0|1 to 8 bytes");
  CHECK(judged(elf.make(), {{}, 9}) == "elf-unit 0:0 9|1 to 8 bytes");
}

TEST_CASE("physical addresses that are all zero are no addresses") {
  ElfMaker elf;
  elf.segments = {segment(0, 116, 4, 0x4000), segment(0, 120, 4, 0x5000)};
  const Try<Firmware> result = read_elf(elf.make(), "in.elf");
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "no-physical-address:1:0");
  CHECK(result->image.segments() == std::vector<Segment>{{0x4000, 4}, {0x5000, 4}});
}

// As objcopy of binutils 2.40 places it: memory without bytes in the file counts as a segment.
TEST_CASE("memory without bytes in the file tells too that physical addresses are missing") {
  ElfMaker elf;
  elf.segments = {segment(0, 116, 4, 0x4000), segment(0, 120, 0, 0x5000)};
  elf.segments[1].memory = 64;
  const Try<Firmware> result = read_elf(elf.make(), "in.elf");
  REQUIRE(verdict(result) == "accepted");
  CHECK(spell(result->notes) == "no-physical-address:1:0");
  CHECK(result->image.segments() == std::vector<Segment>{{0x4000, 4}});
}

TEST_CASE("segments that overlap have to agree") {
  ElfMaker elf;
  elf.segments = {segment(0x100, 116, 8), segment(0x104, 120, 8)};
  CHECK(judged(elf.make()) == "same-bytes:4:0");
  elf.segments = {segment(0x100, 116, 8), segment(0x104, 121, 8)};
  CHECK(judged(elf.make()) == "image-conflict 0:0 0x06|0x05");
}

TEST_CASE("what is no linked program is refused by its type") {
  const std::string expected = "|an executable file, type 2";
  for (const auto& [type, found] : std::vector<std::pair<std::uint16_t, std::string>>{
           {1, "an object file"},
           {3, "a shared object or position-independent program"},
           {4, "a memory dump"},
           {0, "type 0"}}) {
    ElfMaker elf = two_segments();
    elf.type = type;
    CHECK(judged(elf.make()) == "elf-type 0:0 " + found + expected);
  }
}

TEST_CASE("an ELF file with nothing to load is noted") {
  ElfMaker elf;
  CHECK(judged(elf.make()) == "no-data:1:0");
}

TEST_CASE("hostile headers are refused with what they name") {
  ElfMaker elf = two_segments();
  const std::uint64_t end = elf.make().size();
  elf.segments[1].size = elf.segments[1].memory = 0x7FFFFFFF;
  CHECK(judged(elf.make()).starts_with("elf-truncated 0:0 "));
  elf.segments[1].offset = 0xFFFFFFFF;
  CHECK(judged(elf.make()).starts_with("elf-truncated 0:0 "));
  elf = two_segments();
  elf.segments[0].memory = 15;
  CHECK(judged(elf.make()) == "elf-segment 0:0 16 bytes|at most 15");
  elf = two_segments();
  elf.sections[0].offset = end;
  CHECK(judged(elf.make()).starts_with("elf-truncated 0:0 "));
  elf = two_segments();
  elf.sections.push_back(section(0x40000000, elf.body() + 40, 4));
  CHECK(judged(elf.make()).starts_with("elf-unloaded 0:0 address 0x40000000"));
  Bytes bytes = two_segments().make();
  store_le16(bytes.data() + 42, 33); // size of a program header
  CHECK(judged(bytes) == "elf-table 0:0 33 bytes|32");
  bytes = two_segments().make();
  store_le16(bytes.data() + 46, 41);
  CHECK(judged(bytes) == "elf-table 0:0 41 bytes|40");
  bytes = two_segments().make();
  store_le16(bytes.data() + 44, 5000);
  CHECK(judged(bytes) == "elf-too-many 0:0 5000|at most 4096");
  bytes = two_segments().make();
  store_le32(bytes.data() + 32, 0xFFFFFFF0); // where the section headers are
  CHECK(judged(bytes).starts_with("elf-truncated 0:0 "));
  store_le16(bytes.data() + 48, 0); // their number is then in the first one
  CHECK(judged(bytes).starts_with("elf-truncated 0:0 "));
  for (const std::size_t at : {4U, 5U, 6U}) { // class, byte order, version
    bytes = two_segments().make();
    bytes[at] = 9;
    CHECK(judged(bytes).starts_with("elf-header 0:0 "));
  }
}

// Found by tests/fuzz/elf.cpp: libelf keeps its last error until somebody asks for it.
TEST_CASE("what is said of a file does not depend on the file read before it") {
  Bytes no_names = two_segments().make();
  store_le16(no_names.data() + 50, 9999); // which section holds the names
  Bytes no_elf = two_segments().make();
  no_elf[1] = 'F';
  const std::string alone = judged(no_elf);
  CHECK(judged(no_names) == "");
  CHECK(judged(no_elf) == alone);
}

TEST_CASE("segments that share the file can't make an image much larger than it") {
  ElfMaker elf;
  elf.kind.wide = true;
  elf.body_size = 1 << 19;
  elf.segments.resize(100);
  for (std::size_t index = 0; index < elf.segments.size(); ++index) {
    elf.segments[index] = segment(index << 24, 64 + 100 * 56, elf.body_size);
  }
  CHECK(judged(elf.make()).starts_with("elf-too-large 0:0 "));
}

TEST_CASE("every truncation and 20,000 altered ELF files give an error or an image, and no crash") {
  std::mt19937 random = fixed_random(31);
  for (const Kind kind : {Kind{false, true}, Kind{true, false}}) {
    const Bytes bytes = two_segments(kind).make();
    for (std::size_t length = 0; length < bytes.size(); ++length) {
      CHECK_FALSE(read_elf(ByteView(bytes).first(length), "in.elf").has_value());
    }
    std::size_t refused = 0;
    for (int round = 0; round < 10000; ++round) {
      Bytes changed = bytes;
      for (auto change = 1 + random() % 3; change != 0; --change) {
        // Mostly the headers, where bytes have meaning.
        const std::size_t at = random() % 2 == 0 ? random() % 160 : random() % bytes.size();
        changed[at] = static_cast<std::uint8_t>(random() % 3 == 0 ? 0xFF : random());
      }
      ElfReadOptions options;
      options.address_unit = 1 + static_cast<std::uint32_t>(random() % 2);
      const Try<Firmware> result = read_elf(changed, "in.elf", options);
      if (!result) {
        ++refused;
        REQUIRE(result.error().kind == ErrorKind::bad_data);
        REQUIRE_FALSE(result.error().code.empty());
      } else {
        REQUIRE(result->image.size() <= 2 * bytes.size());
      }
    }
    CHECK(refused > 3000);
  }
}
