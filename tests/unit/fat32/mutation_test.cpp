// Damaged volumes from a fixed seed: checker and reader end, whatever they say.
#include <algorithm>
#include <random>

#include "fat32/reader.h"
#include "support/catch.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;

#ifdef CARDSEAL_SANITIZED
constexpr int rounds = 300; // ten times as slow there
#else
constexpr int rounds = 3000;
#endif

namespace {

// A volume of which one sector after the other can be spoiled and put right again.
class Patched final : public SectorSource {
  MemoryCard& below_;

public:
  explicit Patched(MemoryCard& below) : below_(below) {}
  std::map<std::uint32_t, Sector> patches;
  std::uint32_t sectors = below_.sector_count(); // fewer: cut short

  std::uint32_t sector_count() const override { return sectors; }
  std::string name() const override { return "patched"; }
  Try<void> read(std::uint32_t lba, ByteSpan out) override {
    REQUIRE(lba + out.size() / 512 <= sectors);
    if (Try<void> done = below_.read(lba, out); !done) {
      return done;
    }
    const auto end = static_cast<std::uint32_t>(lba + out.size() / 512);
    for (auto at = patches.lower_bound(lba); at != patches.end() && at->first < end; ++at) {
      copy(out.subspan(std::size_t{at->first - lba} * 512, 512), at->second);
    }
    return {};
  }
};

std::uint32_t interesting(std::mt19937& random) {
  constexpr std::uint32_t values[] = {0,          1,          2,          3,          0xFF,
                                      0xFFFF,     0x10000,    0x7FFFFFFF, 0x80000000, 0xFFFFFFFF,
                                      0x0FFFFFF7, 0x0FFFFFF8, 0x0FFFFFFF, 65524,      65542};
  return random() % 3 == 0 ? static_cast<std::uint32_t>(random())
                           : values[random() % std::size(values)];
}

void spoil(Sector& sector, std::mt19937& random, std::size_t first, std::size_t count) {
  const std::size_t at = first + random() % count;
  if (random() % 2 == 0) {
    sector[at] = static_cast<std::uint8_t>(random());
  } else {
    store_le32(&sector[std::min<std::size_t>(at, 508)], interesting(random));
  }
}

} // namespace

TEST_CASE("three thousand damaged volumes are judged without a crash or a hang") {
  VolumeOptions options = sample_options();
  options.data_alignment_sectors = 1;
  options.sectors_per_cluster = 1;
  MadeVolume made = make_volume(options, sample_tree());
  const VolumeShape& shape = made.plan.shape;
  std::vector<std::uint32_t> folder_lbas;
  for (const PlannedFolder& folder : made.plan.folders) {
    for (std::uint32_t i = 0; i < folder.cluster_count; ++i) {
      folder_lbas.push_back(shape.lba_of(folder.first_cluster + i));
    }
  }
  std::mt19937 random(20250309);
  std::size_t refused = 0;
  std::size_t found = 0;
  for (int round = 0; round < rounds; ++round) {
    INFO("round " << round);
    Patched card(made.card);
    const auto spoil_at = [&](std::uint32_t lba, std::size_t first, std::size_t count) {
      auto at = card.patches.find(lba);
      if (at == card.patches.end()) {
        at = card.patches.emplace(lba, sector_of(made.card, lba)).first;
      }
      spoil(at->second, random, first, count);
    };
    for (auto times = 1 + random() % 4; times > 0; --times) {
      switch (random() % 5) {
      case 0:
        spoil_at(shape.partition_lba, 0, 90);
        break;
      case 1:
        spoil_at(0, 446, 66);
        break;
      case 2:
        spoil_at(shape.fat_lba(0) + static_cast<std::uint32_t>(random() % 6), 0, 512);
        break;
      default:
        spoil_at(folder_lbas[random() % folder_lbas.size()], 0, 512);
      }
    }
    if (random() % 4 == 0) { // no second FAT to compare with: the damage gets further
      auto boot = card.patches.emplace(shape.partition_lba, sector_of(made.card, 8192)).first;
      boot->second[16] = 1;
      store_le32(&boot->second[36], shape.fat_sectors * 2);
    }
    Try<CheckReport> report = check_volume(card);
    REQUIRE(report.has_value());
    found += report->clean() ? 0 : 1;
    Try<Volume> volume = Volume::open(card);
    refused += volume ? 0 : 1;
    for (std::size_t i = 0; volume && i < volume->entries().size(); ++i) {
      const Entry& entry = volume->entries()[i];
      if (!entry.folder) {
        REQUIRE(volume->read_all(entry, 0xFFFFFFFF).has_value());
      }
    }
  }
  CHECK(found > rounds * 2 / 3);
  CHECK(refused > rounds / 3);
}

TEST_CASE("a card of random bytes is no volume, and one of any length ends") {
  std::mt19937 random(7);
  for (const std::uint32_t sectors : {0U, 1U, 2U, 64U}) {
    MemoryCard card(sectors, 0);
    for (std::uint32_t lba = 0; lba < sectors; ++lba) {
      Sector sector{};
      for (std::uint8_t& byte : sector) {
        byte = static_cast<std::uint8_t>(random());
      }
      REQUIRE(card.write(lba, sector).has_value());
    }
    Try<CheckReport> report = check_volume(card);
    REQUIRE(report.has_value());
    CHECK_FALSE(report->clean());
    CHECK_FALSE(Volume::open(card).has_value());
  }
}

TEST_CASE("a volume cut short anywhere is refused or read, never read past its end") {
  VolumeOptions options = sample_options();
  MadeVolume made = make_volume(options, sample_tree());
  for (std::uint32_t sectors = 1; sectors < made.plan.shape.image_sectors;
       sectors += sectors < 8200 ? 911 : 1777) {
    Patched shorter(made.card);
    shorter.sectors = sectors;
    Try<CheckReport> report = check_volume(shorter);
    REQUIRE(report.has_value());
    CHECK(report->findings.count(rules::past_end) + report->findings.count(rules::no_volume) > 0);
    CHECK_FALSE(Volume::open(shorter).has_value());
  }
}
