// Every single bit of a package outside the image, and 20,000 inside it, flipped: refused at the
// desk and by a station, each with the reason that its place calls for. A station compares the
// file's digest first, which would hide the later checks; the test-only build leaves that one out
// and must then give the very same reasons as the desk.
#include <cstdlib>
#include <random>

#include "../loader/station_kit.h"
#include "package/memory_source.h"
#include "package/package.h"
#include "support/catch.h"

// There only in the program whose checks can be switched off (support/switch.cpp).
extern "C" __attribute__((weak)) std::uint16_t cardseal_switched_off;

using namespace cardseal;
using namespace cardseal::test;

namespace {

constexpr std::size_t image_bytes = 40'000; // ten blocks, the last one short
constexpr std::size_t flips_inside = 20'000;
#ifdef CARDSEAL_SANITIZED
constexpr std::uint64_t every = 31; // slow there; the other builds flip every bit
#else
constexpr std::uint64_t every = 1;
#endif

CardKit big_kit() {
  CardKit kit;
  kit.image.resize(image_bytes);
  std::mt19937 random(20261125);
  for (std::uint8_t& byte : kit.image) {
    byte = static_cast<std::uint8_t>(random());
  }
  kit.manifest.segments = {};
  kit.manifest.segments.add({0, image_bytes});
  kit.manifest.placements = {};
  format::Placement placement;
  placement.region = id("flash");
  placement.address = 0xF000;
  placement.length = 4;
  placement.encoding = format::Encoding::binary_le;
  kit.manifest.placements.add(placement);
  return kit;
}

bool inside(const format::Extent& extent, std::uint32_t offset) {
  return offset >= extent.offset && offset - extent.offset < extent.size;
}

bool in_padding(const format::Extent& extent, std::uint32_t offset) {
  return offset >= extent.offset + extent.size &&
         offset < extent.offset + format::padded(extent.size);
}

std::vector<format::Extent> extents_of(const format::PackageLayout& layout) {
  std::vector<format::Extent> all{layout.manifest, layout.chain, layout.image, layout.facts};
  for (const auto& signoff : layout.signoffs.view()) {
    all.insert(all.end(), {signoff.text, signoff.signature});
  }
  for (const auto& document : layout.documents.view()) {
    all.push_back(document);
  }
  return all;
}

struct Expected {
  std::vector<int> reasons;
};

// What the specification calls for at this byte.
Expected expected_at(const format::PackageLayout& layout, std::size_t size, std::uint32_t offset) {
  for (const auto& signoff : layout.signoffs.view()) {
    if (inside(signoff.text, offset)) {
      return {{322}};
    }
    if (inside(signoff.signature, offset)) {
      return {{321, 322}};
    }
  }
  for (const format::Extent& extent : extents_of(layout)) {
    if (in_padding(extent, offset)) {
      return {{204}};
    }
  }
  for (const auto& document : layout.documents.view()) {
    if (inside(document, offset)) {
      return {{208}};
    }
  }
  if (inside(layout.manifest, offset)) {
    return {{345}};
  }
  if (inside(layout.facts, offset) ||
      (inside(layout.chain, offset) && offset < layout.chain.offset + 32)) {
    return {{208}};
  }
  if (inside(layout.chain, offset) || inside(layout.image, offset)) {
    return {{510}};
  }
  return {{offset >= size - format::tar_block ? 205 : 201}}; // headers and the first zero block
}

bool is_expected(const Expected& expected, Fault fault) {
  return std::find(expected.reasons.begin(), expected.reasons.end(), static_cast<int>(fault)) !=
         expected.reasons.end();
}

// Bit numbers to flip: all outside the image (every `step`th), a fixed sample inside.
std::vector<std::uint64_t> bits_to_flip(const format::PackageLayout& layout, std::size_t size,
                                        std::uint64_t step, std::size_t sample) {
  std::vector<std::uint64_t> bits;
  for (std::uint64_t bit = 0; bit < 8 * std::uint64_t{size}; bit += step) {
    if (!inside(layout.image, static_cast<std::uint32_t>(bit / 8))) {
      bits.push_back(bit);
    }
  }
  std::mt19937 random(7);
  std::uniform_int_distribution<std::uint64_t> any(0, 8 * std::uint64_t{layout.image.size} - 1);
  for (std::size_t i = 0; i < sample; ++i) {
    bits.push_back(8 * std::uint64_t{layout.image.offset} + any(random));
  }
  return bits;
}

struct Owned {
  seal::OwnerRoot root;
  format::TrustList list;
};

Owned owned(const CardKit& kit) {
  Owned out{{{kit.root_text(), {}}, kit.root, kit.owner(), {}}, {}};
  REQUIRE(format::decode(kit.list_text, out.list).ok());
  return out;
}

format::PackageLayout layout_of(const Bytes& package) {
  package::MemorySource memory(package);
  format::PackageLayout layout;
  REQUIRE(format::read_layout(memory.source(), layout).ok());
  return layout;
}

// The station's answer to the card, up to the last byte of the image.
Fault station_answer(Bench& bench, const CardKit& kit) {
  bench.enrol(kit);
  bench.restart();
  Outcome outcome = bench.admit();
  if (outcome.ok()) {
    Bytes image;
    outcome = stream(*bench.station, image);
  }
  return outcome.fault;
}

} // namespace

TEST_CASE("every flipped bit of a package is refused at the desk with its place's reason") {
  CardKit kit = big_kit();
  (void)kit.build();
  const Owned owner = owned(kit);
  REQUIRE(package::judge_bytes(kit.package, owner.root, owner.list).outcome.ok());
  const format::PackageLayout layout = layout_of(kit.package);
  std::size_t wrong = 0;
  for (const std::uint64_t bit :
       bits_to_flip(layout, kit.package.size(), every, flips_inside / every)) {
    const auto offset = static_cast<std::uint32_t>(bit / 8);
    kit.package[offset] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    const Fault fault = package::judge_bytes(kit.package, owner.root, owner.list).outcome.fault;
    kit.package[offset] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    if (!is_expected(expected_at(layout, kit.package.size(), offset), fault) && ++wrong < 20) {
      UNSCOPED_INFO("bit " << bit << " at byte " << offset << ": " << static_cast<int>(fault));
    }
  }
  CHECK(wrong == 0);
  CHECK(package::judge_bytes(kit.package, owner.root, owner.list).outcome.ok());
}

TEST_CASE("every flipped bit of a package is refused by a station") {
  CardKit kit = big_kit();
  Bench bench(kit.build());
  const format::PackageLayout layout = layout_of(kit.package);
  REQUIRE(station_answer(bench, kit) == Fault::none);
  const bool digest_first = &cardseal_switched_off == nullptr;
  std::uint64_t step = 61; // with the digest all answers are alike, so a sample will do
  if (!digest_first) {
    cardseal_switched_off = static_cast<std::uint16_t>(Fault::card_digest);
    // Every bit takes minutes: a seventh of them unless all are asked for.
    step = std::getenv("CARDSEAL_ALL_FLIPS") != nullptr ? 1 : 7;
  }
  const std::vector<std::uint64_t> bits =
      bits_to_flip(layout, kit.package.size(), step, flips_inside / step);
  std::uint64_t flipped = 0;
  const std::uint32_t first_lba = bench.card.lba_of("CARDSEAL/P01.CRP");
  bench.on_read = [&](std::uint32_t lba, ByteSpan bytes) {
    const std::uint64_t at = (flipped / 8) + std::uint64_t{first_lba} * 512;
    const std::uint64_t from = std::uint64_t{lba} * 512;
    if (at >= from && at < from + bytes.size()) {
      bytes[at - from] ^= static_cast<std::uint8_t>(1U << (flipped % 8));
    }
    return true;
  };
  std::size_t wrong = 0;
  for (const std::uint64_t bit : bits) {
    flipped = bit;
    const auto offset = static_cast<std::uint32_t>(bit / 8);
    const Expected expected =
        digest_first ? Expected{{507}} : expected_at(layout, kit.package.size(), offset);
    const Fault fault = station_answer(bench, kit);
    if (!is_expected(expected, fault) && ++wrong < 20) {
      UNSCOPED_INFO("bit " << bit << " at byte " << offset << ": " << static_cast<int>(fault));
    }
  }
  CHECK(wrong == 0);
  bench.on_read = nullptr;
  CHECK(station_answer(bench, kit) == Fault::none);
  if (!digest_first) {
    cardseal_switched_off = 0;
  }
}

TEST_CASE("bytes before, after or missing from a package are refused", "[check-205]") {
  CardKit kit = big_kit();
  (void)kit.build();
  const Owned owner = owned(kit);
  for (const std::uint8_t byte : {std::uint8_t{0}, std::uint8_t{'m'}, std::uint8_t{0xFF}}) {
    Bytes before = kit.package;
    before.insert(before.begin(), byte);
    CHECK_FALSE(package::judge_bytes(before, owner.root, owner.list).outcome.ok());
    Bytes after = kit.package;
    after.push_back(byte);
    CHECK(package::judge_bytes(after, owner.root, owner.list).outcome.fault ==
          Fault::container_end);
  }
  for (const std::size_t cut :
       {std::size_t{1}, std::size_t{511}, std::size_t{512}, kit.package.size() - 1}) {
    Bytes shorter(kit.package.begin(), kit.package.end() - static_cast<std::ptrdiff_t>(cut));
    CHECK(package::judge_bytes(shorter, owner.root, owner.list).outcome.fault ==
          Fault::container_short);
  }
}

TEST_CASE("an entry that is not what the manifest says is refused", "[check-208]") {
  CardKit kit = big_kit();
  kit.on_manifest = [](format::Manifest& m) { m.facts_digest[0] ^= 1; };
  (void)kit.build();
  const Owned owner = owned(kit);
  CHECK(package::judge_bytes(kit.package, owner.root, owner.list).outcome.fault ==
        Fault::container_manifest);
}

TEST_CASE("facts about another owner, product or release are refused at the desk") {
  for (int which = 0; which < 3; ++which) {
    CardKit kit = big_kit();
    kit.on_facts = [which](format::Facts& facts) {
      facts.owner[0] ^= static_cast<std::uint8_t>(which == 0);
      facts.product = which == 1 ? id("other") : facts.product;
      facts.release = which == 2 ? text<24>("0.0.0") : facts.release;
    };
    (void)kit.build();
    const Owned owner = owned(kit);
    CHECK(package::judge_bytes(kit.package, owner.root, owner.list).outcome.fault ==
          Fault::container_manifest);
  }
}
