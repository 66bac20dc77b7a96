// The release package in its one form: what stands outside the entries' contents is compared byte
// by byte.
#include "packages.h"

#include <filesystem>

#include "support/shared_cases.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

void check_refused(const Bytes& package, Fault fault, std::uint32_t offset) {
  const Outcome outcome = outcome_of(package);
  CAPTURE(static_cast<int>(outcome.fault), outcome.position);
  CHECK(outcome.fault == fault);
  CHECK(outcome.position == offset);
}

void check_entries(const std::vector<Entry>& entries, Fault fault, std::size_t entry) {
  std::uint32_t offset = 0;
  for (std::size_t i = 0; i < entry; ++i) {
    offset += 512 + format::padded(static_cast<std::uint32_t>(entries[i].content.size()));
  }
  CAPTURE(entry);
  check_refused(package_of(entries), fault, offset);
}

// Sets the checksum anew, so that only the form is wrong.
void seal_header(std::uint8_t* header) {
  std::uint32_t sum = 0;
  for (std::size_t i = 0; i < 512; ++i) {
    sum += i >= 148 && i < 156 ? ' ' : header[i];
  }
  for (std::size_t i = 6; i-- > 0; sum >>= 3) {
    header[148 + i] = static_cast<std::uint8_t>('0' + (sum & 7U));
  }
}

enum class Place { header, content, padding, first_end, second_end };

struct Spot {
  Place place;
  std::uint32_t header; // offset of the entry's header, or of the end
};

std::vector<Spot> map_of(const std::vector<Entry>& entries) {
  std::vector<Spot> out;
  for (const Entry& entry : entries) {
    const auto at = static_cast<std::uint32_t>(out.size());
    out.insert(out.end(), 512, {Place::header, at});
    out.insert(out.end(), entry.content.size(), {Place::content, at});
    out.resize((out.size() + 511) / 512 * 512, {Place::padding, at});
  }
  const auto end = static_cast<std::uint32_t>(out.size());
  out.insert(out.end(), 512, {Place::first_end, end});
  out.insert(out.end(), 512, {Place::second_end, end});
  return out;
}

Fault fault_at(Place place) {
  switch (place) {
  case Place::header:
  case Place::first_end: // then it is taken for a header
    return Fault::container_header;
  case Place::padding:
    return Fault::container_padding;
  case Place::second_end:
    return Fault::container_end;
  case Place::content:
    break;
  }
  return Fault::none;
}

} // namespace

namespace {

bool named(Bytes package, const format::Extent& document, std::string_view name) {
  const format::Source source{&package, read_bytes, static_cast<std::uint32_t>(package.size())};
  format::Name as_name;
  REQUIRE(as_name.set(name));
  bool same = false;
  REQUIRE(format::is_document(source, document, as_name, same).ok());
  return same;
}

} // namespace

TEST_CASE("the contents lie where the layout says") {
  const std::vector<Entry> entries = example_entries();
  const Bytes package = package_of(entries);
  format::PackageLayout layout;
  REQUIRE(layout_of(package, layout).ok());
  REQUIRE(layout.signoffs.count == 1);
  REQUIRE(layout.documents.count == 1);
  CHECK(named(package, layout.documents.items[0], "NOTES.txt"));
  CHECK_FALSE(named(package, layout.documents.items[0], "NOTES.tx"));
  CHECK_FALSE(named(package, layout.documents.items[0], "NOTES.txt2"));
  const format::Extent extents[] = {layout.manifest,
                                    layout.signoffs.items[0].text,
                                    layout.signoffs.items[0].signature,
                                    layout.chain,
                                    layout.image,
                                    layout.facts,
                                    layout.documents.items[0]};
  for (std::size_t i = 0; i < entries.size(); ++i) {
    INFO(entries[i].name);
    REQUIRE(extents[i].offset + extents[i].size <= package.size());
    CHECK(equal(ByteView(package).subspan(extents[i].offset, extents[i].size), entries[i].content));
  }
}

TEST_CASE("every single-bit flip outside the contents is refused with its reason and place",
          "[check-201][check-204][check-205]") {
  const std::vector<Entry> entries = example_entries();
  Bytes package = package_of(entries);
  const std::vector<Spot> map = map_of(entries);
  REQUIRE(map.size() == package.size());
  std::size_t flips = 0;
  for (std::size_t i = 0; i < package.size(); ++i) {
    for (unsigned bit = 0; bit < 8 && map[i].place != Place::content; ++bit, ++flips) {
      package[i] ^= static_cast<std::uint8_t>(1U << bit);
      const Outcome outcome = outcome_of(package);
      if (outcome.fault != fault_at(map[i].place) || outcome.position != map[i].header) {
        CAPTURE(i, bit);
        check_refused(package, fault_at(map[i].place), map[i].header);
      }
      package[i] ^= static_cast<std::uint8_t>(1U << bit);
    }
  }
  CHECK(flips > std::size_t{8} * 9 * 512);
  CHECK(outcome_of(package).ok());
}

TEST_CASE("a header that is right for its checksum but not the one form is refused",
          "[check-201]") {
  struct Change {
    std::size_t offset;
    std::string bytes;
  };
  const Change changes[] = {
      {100, "000755 "},
      {100, "0000644"},
      {108, "000001 "},
      {116, "000001 "},
      {124, std::string("00000001722\0", 12)},
      {124, "        722 "},
      {136, "00000000001 "},
      {156, std::string(1, '\0')},
      {156, "1"},
      {156, "2"},
      {156, "5"},
      {156, "7"},
      {156, "x"},
      {156, "g"},
      {156, "L"},
      {156, "S"},
      {157, "target"},
      {257, "ustar  "},
      {265, "root"},
      {297, "root"},
      {329, "000001 "},
      {345, "folder"},
      {500, "x"},
      {9, "x"},
  };
  const Bytes package = package_of(example_entries());
  for (const Change& change : changes) {
    CAPTURE(change.offset, change.bytes);
    Bytes other = package;
    std::copy(change.bytes.begin(), change.bytes.end(),
              other.begin() + static_cast<std::ptrdiff_t>(change.offset));
    seal_header(other.data());
    check_refused(other, Fault::container_header, 0);
  }
  Bytes same = package;
  seal_header(same.data());
  CHECK(outcome_of(same).ok()); // the helper spells the checksum as the form asks
}

TEST_CASE("an entry that is unknown, missing, twice or out of order is refused at its header",
          "[check-202]") {
  const std::vector<Entry> good = example_entries();
  for (std::size_t i = 0; i < good.size(); ++i) {
    std::vector<Entry> other = good;
    other[i].name = "unknown";
    check_entries(other, Fault::container_entry, i);
    other = good;
    other.insert(other.begin() + static_cast<std::ptrdiff_t>(i), good[i]);
    check_entries(other, Fault::container_entry, i + 1);
    if (good[i].name != "doc/NOTES.txt") {
      other = good;
      other.erase(other.begin() + static_cast<std::ptrdiff_t>(i));
      const bool text = good[i].name == "signoff/01"; // then its signature comes first
      check_entries(other, Fault::container_entry, text ? 1 : i);
    }
    if (i + 1 < good.size()) {
      other = good;
      std::swap(other[i], other[i + 1]);
      check_entries(other, Fault::container_entry, i);
    }
  }
  check_refused(Bytes(1024), Fault::container_entry, 0);
}

TEST_CASE("sign-offs are numbered without a gap and documents rise by name", "[check-202]") {
  const std::vector<Entry> good = example_entries();
  std::vector<Entry> other = good;
  other[1].name = "signoff/02";
  check_entries(other, Fault::container_entry, 1);
  other = good;
  other[2].name = "signoff/02.sig";
  check_entries(other, Fault::container_entry, 2);
  for (const char* name :
       {"doc/", "doc/.x", "doc/-x", "doc/a/b", "doc/a b", "doc/\xC3\xA5", "doc/../x", "/doc/x",
        "doc/1234567890123456789012345", "Doc/x", "doc/a\\b", "doc/a:b"}) {
    INFO(name);
    other = good;
    other.back().name = name;
    check_entries(other, Fault::container_entry, 6);
  }
  other = good;
  other.push_back({"doc/NOTES.tx", {1}});
  check_entries(other, Fault::container_entry, 7);
  other.back().name = "doc/NOTES.txt1";
  CHECK(outcome_of(package_of(other)).ok());
}

TEST_CASE("eight documents are taken and a ninth is refused", "[check-202]") {
  std::vector<Entry> entries = example_entries();
  for (const char* name : {"O1", "O2", "O3", "O4", "O5", "O6", "O7"}) {
    entries.push_back({std::string("doc/") + name, {1}});
  }
  CHECK(outcome_of(package_of(entries)).ok());
  entries.push_back({"doc/O8", {1}});
  check_entries(entries, Fault::container_entry, 14);
}

TEST_CASE("an empty entry is refused, and one above its limit", "[check-203]") {
  const std::vector<Entry> good = example_entries();
  for (std::size_t i = 0; i < good.size(); ++i) {
    std::vector<Entry> other = good;
    other[i].content.clear();
    check_entries(other, Fault::container_size, i);
  }
  const std::pair<std::size_t, std::size_t> limits[] = {{0, 8192}, {1, 2048}, {2, 64}, {5, 98'304}};
  for (const auto& [entry, limit] : limits) {
    std::vector<Entry> other = good;
    other[entry].content.resize(limit, 'x');
    CHECK(outcome_of(package_of(other)).ok());
    other[entry].content.push_back('x');
    check_entries(other, Fault::container_size, entry);
  }
}

TEST_CASE("an entry above its limit is that, also when the package ends before it would",
          "[check-203]") {
  Bytes package = package_of(example_entries());
  for (const std::uint32_t size : {8193U, 0x7FFF'FFFFU}) {
    const Header header = header_of("manifest", size);
    std::copy(header.begin(), header.end(), package.begin());
    package.resize(4096);
    check_refused(package, Fault::container_size, 0);
  }
}

TEST_CASE("a claimed size that the package does not hold is refused without a read past its end",
          "[check-206]") {
  const std::vector<Entry> entries = example_entries();
  const Bytes package = package_of(entries);
  const std::vector<Spot> map = map_of(entries);
  for (std::size_t i = 0; i < package.size(); i += 512) {
    const std::string name(reinterpret_cast<const char*>(&package[i]), 5);
    if (map[i].place == Place::header && name == "image") {
      Bytes other = package;
      const Header huge = header_of("image", 0x7FFF'FFFF);
      std::copy(huge.begin(), huge.end(), other.begin() + static_cast<std::ptrdiff_t>(i));
      check_refused(other, Fault::container_short, static_cast<std::uint32_t>(package.size()));
      return;
    }
  }
  FAIL("no image in the package");
}

TEST_CASE("padding that is not zero is refused at its entry", "[check-204]") {
  Bytes package = package_of(example_entries());
  const std::size_t size = example_of<format::Manifest>().size();
  package[512 + size] = 1;
  check_refused(package, Fault::container_padding, 0);
}

TEST_CASE("anything after the two zero blocks is refused, and anything before the first header",
          "[check-205]") {
  const Bytes package = package_of(example_entries());
  const auto end = static_cast<std::uint32_t>(package.size() - 1024);
  for (std::size_t more = 1; more <= 1024; ++more) {
    for (const std::uint8_t byte : {std::uint8_t{0}, std::uint8_t{1}}) {
      Bytes other = package;
      other.resize(package.size() + more, byte);
      const Outcome outcome = outcome_of(other);
      REQUIRE(outcome.fault == Fault::container_end);
      REQUIRE(outcome.position == end);
      other = package;
      other.insert(other.begin(), more, byte);
      REQUIRE_FALSE(outcome_of(other).ok());
    }
  }
  Bytes twice = package;
  twice.insert(twice.end(), package.begin(), package.end());
  check_refused(twice, Fault::container_end, end);
}

TEST_CASE("a package cut short at any length is refused for being short", "[check-206]") {
  const Bytes package = package_of(example_entries());
  for (std::size_t size = 0; size < package.size(); ++size) {
    const Outcome outcome =
        outcome_of({package.begin(), package.begin() + static_cast<std::ptrdiff_t>(size)});
    if (outcome.fault != Fault::container_short) {
      CAPTURE(size, static_cast<int>(outcome.fault));
      FAIL("another reason");
    }
  }
}

TEST_CASE("eight sign-offs are taken and a ninth is refused", "[check-207]") {
  std::vector<Entry> entries = example_entries();
  const Entry text = entries[1];
  const Entry signature = entries[2];
  for (std::size_t i = 1; i < 9; ++i) {
    const std::string name = "signoff/0" + std::to_string(i + 1);
    if (i == 8) {
      CHECK(outcome_of(package_of(entries)).ok());
    }
    entries.insert(entries.begin() + static_cast<std::ptrdiff_t>(1 + 2 * i),
                   {{name, text.content}, {name + ".sig", signature.content}});
  }
  check_entries(entries, Fault::container_signoffs, 17);
}

TEST_CASE("what the source can't read is its own fault, passed on") {
  const auto broken = [](void*, std::uint32_t, ByteSpan) { return refuse(Fault::card_read, 77); };
  format::PackageLayout layout;
  const Outcome outcome = format::read_layout({nullptr, broken, 100'000}, layout);
  CHECK(outcome.fault == Fault::card_read);
  CHECK(outcome.position == 77);
}

TEST_CASE("containers that common readers take are all refused") {
  const std::optional<std::filesystem::path> folder = shared_case("cases/containers");
  if (!folder) {
    return;
  }
  std::size_t met = 0;
  for (const auto& file : std::filesystem::directory_iterator(*folder)) {
    std::ifstream in(file.path(), std::ios::binary);
    const Bytes bytes{std::istreambuf_iterator<char>(in), {}};
    INFO(file.path().filename().string());
    CHECK_FALSE(outcome_of(bytes).ok());
    ++met;
  }
  CHECK(met > 20);
}
