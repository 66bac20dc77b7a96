// A FAT32 volume read strictly: what is open to doubt (rules::stop_reading) is refused, what is
// merely odd is read and kept as a finding. It takes any end mark, root cluster, legal media byte,
// bad-cluster marks, lower-case bits and set top nibbles. Every input ends in bounded time and
// memory: at most 4,194,304 clusters, 262,144 names, 32 MiB of paths, folders 64 deep.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/number.h"
#include "diag/finding.h"
#include "fat32/plan.h"
#include "fat32/sectors.h"

namespace cardseal::fat32 {

// The volume as its boot sector tells it. Sectors of `fat_lba` and `lba_of` are absolute.
struct FoundShape {
  bool partitioned = false;
  std::uint8_t partition_type = 0;
  std::uint32_t partition_lba = 0;
  std::uint32_t partition_sectors = 0; // of the card when it is bare
  std::uint32_t total_sectors = 0;
  std::uint32_t reserved_sectors = 0;
  std::uint32_t fat_count = 0; // 1 or 2
  std::uint32_t fat_sectors = 0;
  std::uint32_t active_fat = 0;
  bool mirrored = true;
  std::uint32_t sectors_per_cluster = 0; // 1 to 128
  std::uint32_t cluster_count = 0;
  std::uint32_t root_cluster = 0;
  std::uint32_t fsinfo_sector = 0; // of the volume; 0 or 0xFFFF: none
  std::uint32_t backup_sector = 0; // of the volume; 0 or 0xFFFF: none
  std::uint8_t media = 0;
  std::uint32_t volume_serial = 0;
  std::string label; // of the boot sector, bytes as they are

  std::uint32_t fat_lba(std::uint32_t which) const {
    return partition_lba + reserved_sectors + which * fat_sectors;
  }
  std::uint32_t lba_of(std::uint32_t cluster) const {
    return fat_lba(fat_count) + (cluster - format::fat::first_cluster) * sectors_per_cluster;
  }
  std::uint32_t cluster_bytes() const { return sectors_per_cluster * format::fat::sector_bytes; }
};

struct Entry {
  std::string path;       // long names where there are some, joined by '/'; bytes of short names
                          // above 0x7F stay as they are
  std::string short_name; // of this entry alone
  bool folder = false;
  std::uint8_t attributes = 0;
  std::uint64_t size = 0; // bytes; files only
  Utc written;            // year 0 when the stamp is no real time
  std::uint32_t first_cluster = 0;
  std::vector<Extent> extents; // whole clusters, in order; neighbours joined
};

struct CheckReport;

class Volume {
public:
  // Error of kind refused with the code of the first finding that stops reading; else errors of the
  // source. The source must stay while the volume is used.
  static Try<Volume> open(SectorSource& source);
  // Likewise, from what check_volume (checker.h) said of this very source.
  static Try<Volume> of(SectorSource& source, const CheckReport& report);

  const FoundShape& shape() const { return shape_; }
  const std::vector<Entry>& entries() const { return entries_; } // folders before what they hold
  const Findings& findings() const { return findings_; }         // odd, but read all the same
  const Entry* find(std::string_view path) const; // without case for ASCII; null when there is none
  // Bytes offset to offset + out.size() of a file; all of them lie inside its size.
  Try<void> read(const Entry& file, std::uint64_t offset, ByteSpan out);
  Try<io::Bytes> read_all(const Entry& file, std::uint64_t limit);

private:
  Volume(SectorSource& source, FoundShape shape, std::vector<Entry> entries, Findings findings);
  SectorSource* source_;
  FoundShape shape_;
  std::vector<Entry> entries_;
  Findings findings_;
};

} // namespace cardseal::fat32
