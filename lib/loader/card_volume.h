// Reads files from a card's FAT32 volume, bare or in the one partition of a master boot record.
// Source: Microsoft FAT Specification (2005), layout in format/fat32_layout.h. Nothing found on the
// volume is believed: every sector asked for lies on the card, every walk is bounded by the file's
// size or a folder's, and what is read is hashed by whoever uses it.
//
// Faults: 501 a sector can't be read; 502 sector 0 is neither volume nor table of one partition;
// 503 the volume; 504 a chain; 505 no such file; 511 a path that is no path of 8.3 names. Position
// is a sector of the card.
#pragma once

#include "base/outcome.h"
#include "format/card_texts.h"
#include "format/source.h"
#include "loader/host.h"

namespace cardseal::loader {

struct Volume {
  const SectorReader* reader = nullptr;
  std::uint32_t fat_lba = 0; // of the first FAT
  std::uint32_t data_lba = 0;
  std::uint32_t sectors_per_cluster = 1;
  std::uint32_t cluster_count = 0;
  std::uint32_t root_cluster = 2;
};

// `reader` must outlive the volume.
Outcome open_volume(const SectorReader& reader, Volume& volume);

struct CardFile {
  const Volume* volume = nullptr;
  std::uint32_t size = 0; // bytes
  std::uint32_t first_cluster = 0;
  std::uint32_t walk_index = 0; // where reading stopped: the cluster's place in the file
  std::uint32_t walk_cluster = 0;
};

// Upper-case 8.3 names joined by '/'. On success the file's chain has exactly the clusters that its
// size needs. Long names, labels and deleted entries are passed over.
Outcome find_file(const Volume& volume, std::string_view path, CardFile& file);

// Reads through `file`, which must outlive the source.
format::Source source_of(CardFile& file);

// The sectors that hold the file's bytes; false when they do not follow one another, or when the
// last one is not full.
bool extent_of(const CardFile& file, format::LogExtent& extent);

} // namespace cardseal::loader
