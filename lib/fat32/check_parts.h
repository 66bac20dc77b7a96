// The steps of a check, in their order. Each adds what it finds to the report and says whether the
// next one has anything to stand on; an error is one of the source. Inside fat32 only.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "fat32/checker.h"

namespace cardseal::fat32 {

inline constexpr std::uint32_t max_checked_clusters = 4'194'304; // 2 GiB of 512-byte clusters

// A byte of the card: a sector, and the offset in it.
struct Spot {
  std::uint32_t lba = 0;
  std::size_t offset = 0;
};

// The card, its report, and where a finding is.
struct Check {
  SectorSource& source;
  CheckReport& report;

  void add(const Rule& rule, Spot spot, std::string text);
  bool holds(std::uint64_t lba, std::uint64_t count) const {
    return lba + count <= source.sector_count();
  }
};

// Finds the volume, checks its boot sector and the copy; fills report.shape.
Try<bool> check_boot(Check& check);

// The active FAT's entries 0 to cluster_count + 1, checked against the other FAT and FSInfo.
Try<bool> check_fats(Check& check, std::vector<std::uint32_t>& fat);

// Folders, names and chains; fills report.entries.
Try<void> check_tree(Check& check, const std::vector<std::uint32_t>& fat);

std::string hex_text(std::uint32_t value);

} // namespace cardseal::fat32
