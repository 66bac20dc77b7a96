// Damaged volumes from a fixed seed: checker and reader end, whatever they say.
#include <random>

#include "fat32/reader.h"
#include "support/catch.h"
#include "unit/fat32/mutants.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;

#ifdef CARDSEAL_SANITIZED
constexpr int rounds = 300; // ten times as slow there
#else
constexpr int rounds = 3000;
#endif

TEST_CASE("of three thousand damaged volumes none is called clean with other bytes than before") {
  VolumeOptions options = sample_options();
  options.data_alignment_sectors = 1;
  options.sectors_per_cluster = 1;
  MadeVolume made = make_volume(options, sample_tree());
  Mutator mutator(made, 20250309);
  std::size_t refused = 0;
  std::size_t found = 0;
  for (int round = 0; round < rounds; ++round) {
    INFO("round " << round);
    Patched card(made.card);
    mutator.mutate(card);
    const Judged judged = judge(made, card);
    REQUIRE(judged.wrong == "");
    found += judged.clean ? 0 : 1;
    refused += judged.opened ? 0 : 1;
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
    CHECK_FALSE(shorter.read_past_end);
  }
}
