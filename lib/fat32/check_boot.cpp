#include <algorithm>
#include <array>
#include <bit>

#include "fat32/check_parts.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
namespace boot = format::fat::boot;
namespace mbr = format::fat::mbr;

using SectorBytes = std::array<std::uint8_t, fat::sector_bytes>;

bool is_signed(const SectorBytes& sector) {
  return load_le16(&sector[boot::signature]) == boot::signature_value;
}

// A boot sector in sector 0 instead of a partition table: by the fields that a partition table's
// code does not happen to have.
bool looks_bare(const SectorBytes& sector) {
  return load_le16(&sector[boot::bytes_per_sector]) == fat::sector_bytes &&
         std::has_single_bit(sector[boot::sectors_per_cluster]) && sector[boot::fat_count] >= 1 &&
         sector[boot::fat_count] <= 2 && load_le16(&sector[boot::reserved_sectors]) != 0;
}

// Fills the shape's place on the card; false with a finding when there is none.
bool find_partition(Check& check, const SectorBytes& sector, FoundShape& shape) {
  for (std::size_t i = 0; i < mbr::entry_count; ++i) {
    const std::size_t at = mbr::entries + i * mbr::entry_bytes;
    const std::uint8_t type = sector[at + mbr::type];
    if (type != mbr::type_fat32_chs && type != mbr::type_fat32_lba) {
      continue;
    }
    shape.partitioned = true;
    shape.partition_type = type;
    shape.partition_lba = load_le32(&sector[at + mbr::first_lba]);
    shape.partition_sectors = load_le32(&sector[at + mbr::sector_count]);
    if (shape.partition_lba == 0 || !check.holds(shape.partition_lba, 1)) {
      check.add(rules::past_end, {0, at + mbr::first_lba},
                "partition starts at sector " + std::to_string(shape.partition_lba) +
                    ", the card has " + std::to_string(check.source.sector_count()));
      return false;
    }
    if (!check.holds(shape.partition_lba, shape.partition_sectors)) {
      check.add(rules::past_end, {0, at + mbr::sector_count},
                "partition ends at sector " +
                    std::to_string(std::uint64_t{shape.partition_lba} + shape.partition_sectors) +
                    ", the card has " + std::to_string(check.source.sector_count()));
    }
    return true;
  }
  check.add(rules::no_volume, {0, mbr::entries},
            "sector 0 is neither a FAT32 boot sector nor a table with a partition of type 0x0B or "
            "0x0C");
  return false;
}

// One field after the other; `usable` is what of them the rest of the check stands on.
class BootFields {
public:
  BootFields(Check& check, const SectorBytes& sector, FoundShape& shape)
      : check_(check), sector_(sector), shape_(shape) {}

  bool read();

private:
  void add(const Rule& rule, std::size_t offset, std::string text) {
    check_.add(rule, {shape_.partition_lba, offset}, std::move(text));
  }
  // A field that must be so for anything else to make sense.
  void need(bool good, std::size_t offset, const char* field, std::uint64_t found,
            const char* expected);
  void read_marks();
  void read_sizes();
  void read_sharing();
  void read_clusters();
  void read_labels();

  Check& check_;
  const SectorBytes& sector_;
  FoundShape& shape_;
  bool usable_ = true;
};

void BootFields::need(bool good, std::size_t offset, const char* field, std::uint64_t found,
                      const char* expected) {
  if (!good) {
    usable_ = false;
    add(rules::boot_field, offset,
        std::string(field) + " is " + std::to_string(found) + ", expected " + expected);
  }
}

void BootFields::read_marks() {
  const std::uint8_t* jump = &sector_[boot::jump];
  need(is_signed(sector_), boot::signature, "signature", load_le16(&sector_[boot::signature]),
       "43605 (55 AA)");
  if (!(jump[0] == 0xEB && jump[2] == 0x90) && jump[0] != 0xE9) {
    add(rules::jump, boot::jump,
        "first bytes are " + hex_text(jump[0]) + " " + hex_text(jump[1]) + " " + hex_text(jump[2]) +
            ", expected EB xx 90 or E9 xx xx");
  }
  if (!equal(ByteView(sector_).subspan(boot::type_text, 8), bytes_of("FAT32   "))) {
    add(rules::type_text, boot::type_text, "type text is not \"FAT32   \"");
  }
  if (const std::uint16_t found = load_le16(&sector_[boot::version]); found != 0) {
    add(rules::version, boot::version, "version is " + std::to_string(found) + ", expected 0");
  }
}

void BootFields::read_sizes() {
  const std::uint32_t bytes = load_le16(&sector_[boot::bytes_per_sector]);
  need(bytes == fat::sector_bytes, boot::bytes_per_sector, "bytes a sector", bytes, "512");
  shape_.sectors_per_cluster = sector_[boot::sectors_per_cluster];
  need(std::has_single_bit(shape_.sectors_per_cluster), boot::sectors_per_cluster,
       "sectors a cluster", shape_.sectors_per_cluster, "a power of two");
  shape_.reserved_sectors = load_le16(&sector_[boot::reserved_sectors]);
  need(shape_.reserved_sectors != 0, boot::reserved_sectors, "reserved sectors", 0, "1 or more");
  shape_.fat_count = sector_[boot::fat_count];
  need(shape_.fat_count == 1 || shape_.fat_count == 2, boot::fat_count, "number of FATs",
       shape_.fat_count, "2 or 1");
  const std::uint32_t root_entries = load_le16(&sector_[boot::root_entries]);
  need(root_entries == 0, boot::root_entries, "root entries", root_entries, "0 (FAT32)");
  const std::uint32_t fat_16 = load_le16(&sector_[boot::fat_sectors_16]);
  need(fat_16 == 0, boot::fat_sectors_16, "16-bit FAT sectors", fat_16, "0 (FAT32)");
  shape_.fat_sectors = load_le32(&sector_[boot::fat_sectors]);
  need(shape_.fat_sectors != 0, boot::fat_sectors, "FAT sectors", 0, "1 or more");
  shape_.total_sectors = load_le32(&sector_[boot::total_sectors]);
  need(shape_.total_sectors != 0, boot::total_sectors, "total sectors", 0, "1 or more");
  if (const std::uint32_t total_16 = load_le16(&sector_[boot::total_sectors_16]); total_16 != 0) {
    add(rules::both_totals, boot::total_sectors_16,
        "16-bit total is " + std::to_string(total_16) + ", expected 0 beside the 32-bit one of " +
            std::to_string(shape_.total_sectors));
  }
}

void BootFields::read_sharing() {
  shape_.media = sector_[boot::media];
  need(shape_.media == boot::media_removable || shape_.media >= boot::media_fixed, boot::media,
       "media byte", shape_.media, "240 (F0) or 248 (F8) to 255");
  const std::uint16_t flags = load_le16(&sector_[boot::ext_flags]);
  shape_.mirrored = (flags & boot::mirroring_off) == 0;
  shape_.active_fat = shape_.mirrored ? 0U : flags & boot::active_fat_mask;
  if (!shape_.mirrored) {
    add(rules::mirroring, boot::ext_flags,
        "flags are " + hex_text(flags) + ": only FAT " + std::to_string(shape_.active_fat) +
            " counts, which many readers do not heed");
    need(shape_.active_fat < shape_.fat_count, boot::ext_flags, "active FAT", shape_.active_fat,
         "the number of a FAT");
  }
  const std::uint32_t hidden = load_le32(&sector_[boot::hidden_sectors]);
  if (hidden != shape_.partition_lba) {
    add(rules::hidden_sectors, boot::hidden_sectors,
        "hidden sectors are " + std::to_string(hidden) + ", the volume starts at sector " +
            std::to_string(shape_.partition_lba));
  }
}

void BootFields::read_clusters() {
  const std::uint64_t before =
      shape_.reserved_sectors + std::uint64_t{shape_.fat_count} * shape_.fat_sectors;
  need(before < shape_.total_sectors, boot::total_sectors, "total sectors", shape_.total_sectors,
       "more than reserved sectors and FATs take");
  if (!usable_) {
    return;
  }
  shape_.cluster_count =
      static_cast<std::uint32_t>((shape_.total_sectors - before) / shape_.sectors_per_cluster);
  const std::string clusters = std::to_string(shape_.cluster_count) + " clusters";
  if (shape_.cluster_count < fat::fewest_clusters_fat32) {
    add(rules::few_clusters, boot::total_sectors,
        clusters + ", FAT32 has at least " + std::to_string(fat::fewest_clusters_fat32));
  } else if (shape_.cluster_count < fat::min_clusters) {
    add(rules::near_border, boot::total_sectors,
        clusters + ", careful writers keep " + std::to_string(fat::min_clusters));
  }
  if (shape_.cluster_count > max_checked_clusters) {
    usable_ = false;
    add(rules::too_large, boot::total_sectors,
        clusters + ", at most " + std::to_string(max_checked_clusters) + " can be checked");
  }
  const std::uint64_t entries = std::uint64_t{shape_.fat_sectors} * fat::entries_per_sector;
  if (entries < std::uint64_t{shape_.cluster_count} + fat::first_cluster) {
    usable_ = false;
    add(rules::fat_small, boot::fat_sectors,
        "a FAT has " + std::to_string(entries) + " entries for " + clusters);
  }
  shape_.root_cluster = load_le32(&sector_[boot::root_cluster]);
  need(shape_.root_cluster >= fat::first_cluster &&
           shape_.root_cluster - fat::first_cluster < shape_.cluster_count,
       boot::root_cluster, "root cluster", shape_.root_cluster, "a cluster of the volume");
}

void BootFields::read_labels() {
  shape_.fsinfo_sector = load_le16(&sector_[boot::fsinfo_sector]);
  shape_.backup_sector = load_le16(&sector_[boot::backup_sector]);
  shape_.volume_serial = load_le32(&sector_[boot::volume_serial]);
  shape_.label = std::string(text_of(ByteView(sector_).subspan(boot::label, 11)));
}

bool BootFields::read() {
  read_marks();
  read_sizes();
  read_sharing();
  read_clusters();
  read_labels();
  if (usable_) {
    const bool fits_partition =
        !shape_.partitioned || shape_.total_sectors <= shape_.partition_sectors;
    if (!fits_partition || !check_.holds(shape_.partition_lba, shape_.total_sectors)) {
      const std::uint32_t place =
          std::min(shape_.partition_sectors, check_.source.sector_count() - shape_.partition_lba);
      add(rules::past_end, boot::total_sectors,
          "volume has " + std::to_string(shape_.total_sectors) + " sectors, its place has " +
              std::to_string(place));
    }
  }
  return usable_;
}

// Systems that write a card mark it here, in the first copy alone, while it is mounted.
void check_in_use(Check& check, SectorBytes& sector) {
  if ((sector[boot::reserved_byte] & boot::in_use) != 0) {
    check.add(rules::dirty, {check.report.shape->partition_lba, boot::reserved_byte},
              "boot sector says in use, " + hex_text(sector[boot::reserved_byte]) + ", expected " +
                  hex_text(sector[boot::reserved_byte] & ~boot::in_use));
    sector[boot::reserved_byte] &= static_cast<std::uint8_t>(~boot::in_use);
  }
}

// `sector` as it is without the mark of being in use.
Try<void> check_backup(Check& check, const SectorBytes& sector) {
  const FoundShape& shape = *check.report.shape;
  if (shape.backup_sector == 0 || shape.backup_sector == 0xFFFF) {
    return {};
  }
  const std::uint32_t lba = shape.partition_lba + shape.backup_sector;
  if (shape.backup_sector >= shape.reserved_sectors || !check.holds(lba, 1)) {
    check.add(rules::backup_boot, {shape.partition_lba, boot::backup_sector},
              "copy is said to be in sector " + std::to_string(shape.backup_sector) + " of " +
                  std::to_string(shape.reserved_sectors) + " reserved ones");
    return {};
  }
  SectorBytes copy{};
  if (Try<void> read = check.source.read(lba, copy); !read) {
    return read;
  }
  const auto [at, in_copy] = std::mismatch(sector.begin(), sector.end(), copy.begin());
  if (at != sector.end()) {
    check.add(rules::backup_boot, {lba, static_cast<std::size_t>(at - sector.begin())},
              "copy of the boot sector has " + hex_text(*in_copy) + ", the boot sector " +
                  hex_text(*at));
  }
  return {};
}

} // namespace

Try<bool> check_boot(Check& check) {
  SectorBytes sector{};
  if (!check.holds(0, 1)) {
    check.add(rules::no_volume, {0, 0}, "the card has no sector");
    return false;
  }
  if (Try<void> read = check.source.read(0, sector); !read) {
    return Unexpected(std::move(read.error()));
  }
  FoundShape shape;
  shape.partition_sectors = check.source.sector_count();
  if (!looks_bare(sector)) {
    if (!is_signed(sector)) {
      check.add(rules::no_volume, {0, boot::signature},
                "sector 0 ends in " + hex_text(sector[510]) + " " + hex_text(sector[511]) +
                    ", expected 55 AA");
      return false;
    }
    if (!find_partition(check, sector, shape)) {
      return false;
    }
    if (Try<void> read = check.source.read(shape.partition_lba, sector); !read) {
      return Unexpected(std::move(read.error()));
    }
  }
  if (!BootFields(check, sector, shape).read()) {
    return false;
  }
  check.report.shape = shape;
  check_in_use(check, sector);
  if (Try<void> done = check_backup(check, sector); !done) {
    return Unexpected(std::move(done.error()));
  }
  return true;
}

} // namespace cardseal::fat32
