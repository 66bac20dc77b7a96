#include <algorithm>
#include <array>
#include <cstring>

#include "base/checked.h"
#include "fat32/check_parts.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
constexpr std::uint32_t buffer_sectors = 128;

void compare_sector(Check& check, std::uint32_t lba, std::uint32_t first_entry, ByteView ours,
                    ByteView other) {
  if (std::memcmp(ours.data(), other.data(), ours.size()) == 0) {
    return;
  }
  const auto [at, there] = std::mismatch(ours.begin(), ours.end(), other.begin());
  const std::size_t offset = static_cast<std::size_t>(at - ours.begin()) / 4 * 4;
  check.add(rules::fats_differ, {lba, offset},
            "entry " + std::to_string(first_entry + offset / 4) + " is " +
                hex_text(load_le32(&ours[offset])) + " in the first FAT and " +
                hex_text(load_le32(&other[offset])) + " in the second");
}

// Most of a FAT is: free clusters.
bool is_all_zero(ByteView bytes) {
  return bytes[0] == 0 && std::memcmp(bytes.data(), bytes.data() + 1, bytes.size() - 1) == 0;
}

// Reads the active FAT, comparing it with the other one where both count.
Try<void> load_fat(Check& check, std::vector<std::uint32_t>& out) {
  const FoundShape& shape = *check.report.shape;
  const std::uint32_t sectors =
      divide_up(shape.cluster_count + fat::first_cluster, fat::entries_per_sector);
  const bool compare = shape.mirrored && shape.fat_count == 2;
  std::vector<std::uint8_t> ours(std::size_t{buffer_sectors} * fat::sector_bytes);
  std::vector<std::uint8_t> other(ours.size());
  out.assign(std::size_t{sectors} * fat::entries_per_sector, 0);
  for (std::uint32_t sector = 0; sector < sectors;) {
    const std::uint32_t now = std::min(sectors - sector, buffer_sectors);
    const ByteSpan part = ByteSpan(ours).first(std::size_t{now} * fat::sector_bytes);
    if (Try<void> read = check.source.read(shape.fat_lba(shape.active_fat) + sector, part); !read) {
      return read;
    }
    std::uint32_t* entries = &out[std::size_t{sector} * fat::entries_per_sector];
    const std::size_t used = is_all_zero(part) ? 0 : part.size();
    for (std::size_t at = 0; at < used; at += 4) {
      *entries++ = load_le32(&part[at]);
    }
    if (compare) {
      const ByteSpan second = ByteSpan(other).first(part.size());
      if (Try<void> read = check.source.read(shape.fat_lba(1) + sector, second); !read) {
        return read;
      }
      for (std::uint32_t i = 0; i < now; ++i) {
        const std::size_t at = std::size_t{i} * fat::sector_bytes;
        compare_sector(check, shape.fat_lba(1) + sector + i, (sector + i) * fat::entries_per_sector,
                       part.subspan(at, fat::sector_bytes), second.subspan(at, fat::sector_bytes));
      }
    }
    sector += now;
  }
  out.resize(std::size_t{shape.cluster_count} + fat::first_cluster);
  return {};
}

void check_first_entries(Check& check, const std::vector<std::uint32_t>& entries) {
  const FoundShape& shape = *check.report.shape;
  const std::uint32_t lba = shape.fat_lba(shape.active_fat);
  const std::uint32_t expected = fat::entry0_high | shape.media;
  if ((entries[0] & fat::entry_mask) != expected) {
    check.add(rules::media_entry, {lba, 0},
              "first FAT entry is " + hex_text(entries[0]) + ", expected " + hex_text(expected));
  }
  const std::uint32_t clean = fat::entry1_clean | fat::entry1_no_errors;
  if ((entries[1] & clean) != clean) {
    check.add(rules::dirty, {lba, 4},
              "second FAT entry is " + hex_text(entries[1]) + ", expected both bits of " +
                  hex_text(clean));
  }
}

Try<void> check_fsinfo(Check& check, std::uint32_t free_clusters) {
  const FoundShape& shape = *check.report.shape;
  const std::uint32_t lba = shape.partition_lba + shape.fsinfo_sector;
  if (shape.fsinfo_sector == 0 || shape.fsinfo_sector >= shape.reserved_sectors ||
      !check.holds(lba, 1)) {
    check.add(rules::fsinfo, {shape.partition_lba, fat::boot::fsinfo_sector},
              "FSInfo is said to be in sector " + std::to_string(shape.fsinfo_sector) + " of " +
                  std::to_string(shape.reserved_sectors) + " reserved ones");
    return {};
  }
  std::array<std::uint8_t, fat::sector_bytes> sector{};
  if (Try<void> read = check.source.read(lba, sector); !read) {
    return read;
  }
  const auto field = [&](std::size_t offset, std::uint32_t expected, const char* name) {
    const std::uint32_t found = load_le32(&sector[offset]);
    if (found != expected) {
      check.add(rules::fsinfo, {lba, offset},
                std::string(name) + " is " + hex_text(found) + ", expected " + hex_text(expected));
    }
  };
  field(fat::fsinfo::lead, fat::fsinfo::lead_value, "lead signature");
  field(fat::fsinfo::structure, fat::fsinfo::structure_value, "structure signature");
  field(fat::fsinfo::trail, fat::fsinfo::trail_value, "trail signature");
  const std::uint32_t told = load_le32(&sector[fat::fsinfo::free_clusters]);
  if (told != free_clusters) {
    check.add(rules::fsinfo, {lba, fat::fsinfo::free_clusters},
              "free clusters are told as " + std::to_string(told) + ", the FAT has " +
                  std::to_string(free_clusters));
  }
  const std::uint32_t next = load_le32(&sector[fat::fsinfo::next_free]);
  if (next < fat::first_cluster || next - fat::first_cluster >= shape.cluster_count) {
    check.add(rules::fsinfo, {lba, fat::fsinfo::next_free},
              "next free cluster is told as " + std::to_string(next) + ", the last is " +
                  std::to_string(shape.cluster_count + 1));
  }
  return {};
}

} // namespace

Try<bool> check_fats(Check& check, std::vector<std::uint32_t>& entries) {
  const FoundShape& shape = *check.report.shape;
  const std::uint64_t fats = std::uint64_t{shape.fat_count} * shape.fat_sectors;
  if (!check.holds(std::uint64_t{shape.partition_lba} + shape.reserved_sectors, fats)) {
    return false; // told already: the volume is larger than the card
  }
  if (Try<void> loaded = load_fat(check, entries); !loaded) {
    return Unexpected(std::move(loaded.error()));
  }
  check_first_entries(check, entries);
  const auto free_clusters =
      std::count_if(entries.begin() + fat::first_cluster, entries.end(),
                    [](std::uint32_t each) { return (each & fat::entry_mask) == fat::entry_free; });
  if (Try<void> done = check_fsinfo(check, static_cast<std::uint32_t>(free_clusters)); !done) {
    return Unexpected(std::move(done.error()));
  }
  return true;
}

} // namespace cardseal::fat32
