// A FAT32 volume laid out before any content is known: from options and a tree of names and sizes
// to the sectors of every file. Same input, same plan. Sectors are absolute (sector 0 of the card
// or image); sizes of files in bytes. Source: Microsoft FAT Specification (2005).
//
// Order on the volume: reserved sectors, both FATs, all folders (the root at cluster 2, then depth
// first), all files depth first, in the caller's order throughout, each in one run of clusters.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/number.h"
#include "diag/error.h"
#include "fat32/names.h"
#include "format/fat32_layout.h"

namespace cardseal::fat32 {

inline constexpr std::uint32_t smallest_image = 0;

struct VolumeOptions {
  // Sectors of the whole image, with the 8192 before a partition; or `smallest_image`.
  std::uint32_t image_sectors = format::fat::max_sectors;
  // What the card is sure to have; at most 3,906,250 (2,000,000,000 bytes).
  std::uint32_t limit_sectors = format::fat::max_sectors;
  std::uint32_t sectors_per_cluster = 16; // 1, 2, 4, 8, 16, 32
  bool partitioned = true;                // an MBR with one partition at sector 8192
  std::uint8_t partition_type = format::fat::mbr::type_fat32_lba; // or type_fat32_chs
  // The data area begins at a multiple of this (a power of two, at most 32768), by way of more
  // reserved sectors; 1 leaves the usual 32 reserved ones.
  std::uint32_t data_alignment_sectors = 8192;
  format::fat::Geometry geometry; // heads 1 to 255, sectors a track 1 to 63
  std::string label;              // 1 to 11 characters as in short names, or spaces inside
  std::uint32_t volume_serial = 0;
  Utc time; // of the label and every file and folder; 1980 to 2107, kept in steps of two seconds
};

// A file or folder to be. A short name alone gives no long-name entries; a long name alone gets an
// alias (and no long-name entries when it is a short name already); both together are kept as
// given.
struct Node {
  std::string short_name;
  std::string long_name; // UTF-8
  bool folder = false;
  std::uint64_t size = 0; // bytes; files only
  std::vector<Node> children;
};

// Sectors one after another.
struct Extent {
  std::uint32_t first_lba = 0;
  std::uint32_t sector_count = 0;
  friend constexpr bool operator==(const Extent&, const Extent&) = default;
};

struct PlannedFile {
  std::string path;       // long names where there are some, joined by '/'
  std::string short_path; // short names joined by '/'
  std::uint64_t size = 0;
  std::uint32_t first_cluster = 0; // 0 for an empty file
  std::uint32_t cluster_count = 0;
  Extent extent; // the sectors that hold its bytes, without the rest of its last cluster
};

struct PlannedEntry {
  ShortName short_name{};
  std::u16string long_name; // empty: no long-name entries
  bool folder = false;
  std::uint32_t index = 0; // in `folders` or `files`
};

struct PlannedFolder {
  std::string path; // empty for the root
  std::string short_path;
  std::uint32_t parent = 0; // index of the folder above; 0 for the root itself
  std::uint32_t first_cluster = 0;
  std::uint32_t cluster_count = 0;
  std::vector<PlannedEntry> entries; // without label, `.` and `..`
};

// Where the parts of a volume lie.
struct VolumeShape {
  std::uint32_t image_sectors = 0;
  std::uint32_t partition_lba = 0; // sector 0 of the volume
  std::uint32_t total_sectors = 0; // of the volume
  std::uint32_t reserved_sectors = 0;
  std::uint32_t fat_sectors = 0; // of each of the two
  std::uint32_t sectors_per_cluster = 0;
  std::uint32_t cluster_count = 0; // clusters are numbered from 2 to cluster_count + 1

  std::uint32_t fat_lba(std::uint32_t which) const {
    return partition_lba + reserved_sectors + which * fat_sectors;
  }
  std::uint32_t data_lba() const { return fat_lba(2); }
  std::uint32_t lba_of(std::uint32_t cluster) const {
    return data_lba() + (cluster - format::fat::first_cluster) * sectors_per_cluster;
  }
  std::uint32_t cluster_bytes() const { return sectors_per_cluster * format::fat::sector_bytes; }
};

struct VolumePlan {
  VolumeOptions options;
  VolumeShape shape;
  ShortName label{};
  std::uint32_t used_clusters = 0;    // from cluster 2 on, without a gap
  std::vector<PlannedFolder> folders; // the root first
  std::vector<PlannedFile> files;

  std::uint32_t free_clusters() const { return shape.cluster_count - used_clusters; }
  // By long or short path, as spelled in the plan; null when there is none.
  const PlannedFile* find(std::string_view path) const;
};

// Errors, all of kind bad_data: fat32-size, fat32-cluster-size, fat32-few-clusters,
// fat32-alignment, fat32-geometry, fat32-partition-type, fat32-label, fat32-time, fat32-name,
// fat32-duplicate, fat32-depth, fat32-folder-full, fat32-file-size, fat32-full.
Try<VolumePlan> plan_volume(const VolumeOptions& options, const std::vector<Node>& root);

// The shape of an image of this many sectors, whatever the number of its clusters; nothing when it
// is too small to have any. Options are taken as checked.
std::optional<VolumeShape> shape_of(std::uint32_t image_sectors, const VolumeOptions& options);

// The smallest image with at least this many clusters; options are taken as checked. May pass any
// limit (64 bits).
std::uint64_t smallest_sectors(std::uint64_t clusters, const VolumeOptions& options);

} // namespace cardseal::fat32
