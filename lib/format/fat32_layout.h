// The FAT32 volume as bytes: what its writer, its checker and a station's small reader share.
// Source: Microsoft FAT Specification (2005); section numbers stand in brackets. Numbers on the
// disk are little-endian; offsets and sizes are in bytes; sectors have 512 bytes. The cards that
// Cardseal makes, with a worked example: SPEC-fat32.md.
#pragma once

#include <cstddef>
#include <cstdint>

#include "base/bytes.h"
#include "base/number.h"

namespace cardseal::format::fat {

inline constexpr std::uint32_t sector_bytes = 512;

// FAT32 is FAT32 by its cluster count alone [3.5]; writers stay 16 away from the border, because
// readers exist that count a little wrong.
inline constexpr std::uint32_t fewest_clusters_fat32 = 65525;
inline constexpr std::uint32_t min_clusters = fewest_clusters_fat32 + 16;
// The smallest real "2 GB" card seen in public logs, and the bytes that every such card has.
inline constexpr std::uint32_t max_sectors = 3'842'048;
inline constexpr std::uint64_t max_bytes = 2'000'000'000;
inline constexpr std::uint32_t hard_max_sectors =
    static_cast<std::uint32_t>(max_bytes / sector_bytes);
inline constexpr std::uint32_t max_sectors_per_cluster = 32; // 64 needs 4,195,682 sectors

// Master boot record in sector 0 of a partitioned card; four entries, of which Cardseal uses the
// first.
namespace mbr {
inline constexpr std::size_t boot_code = 0;
inline constexpr std::size_t disk_signature = 440;
inline constexpr std::size_t entries = 446;
inline constexpr std::size_t entry_bytes = 16;
inline constexpr std::size_t entry_count = 4;
// within an entry
inline constexpr std::size_t status = 0; // 0x80 to boot from, else 0
inline constexpr std::size_t first_chs = 1;
inline constexpr std::size_t type = 4;
inline constexpr std::size_t last_chs = 5;
inline constexpr std::size_t first_lba = 8;
inline constexpr std::size_t sector_count = 12;
inline constexpr std::uint8_t type_fat32_chs = 0x0B;
inline constexpr std::uint8_t type_fat32_lba = 0x0C;
inline constexpr std::uint32_t partition_lba = 8192; // 4 MiB
} // namespace mbr

// Boot sector [3.1, 3.3]; sector 0 of the volume and its copy.
namespace boot {
inline constexpr std::size_t jump = 0;     // 3 bytes, EB xx 90 or E9 xx xx
inline constexpr std::size_t oem_name = 3; // 8 bytes, any value
inline constexpr std::size_t bytes_per_sector = 11;
inline constexpr std::size_t sectors_per_cluster = 13; // 1 byte, a power of two
inline constexpr std::size_t reserved_sectors = 14;
inline constexpr std::size_t fat_count = 16;        // 1 byte
inline constexpr std::size_t root_entries = 17;     // zero
inline constexpr std::size_t total_sectors_16 = 19; // zero
inline constexpr std::size_t media = 21;            // 1 byte
inline constexpr std::size_t fat_sectors_16 = 22;   // zero
inline constexpr std::size_t sectors_per_track = 24;
inline constexpr std::size_t heads = 26;
inline constexpr std::size_t hidden_sectors = 28; // 4 bytes, sectors before the volume
inline constexpr std::size_t total_sectors = 32;  // 4 bytes
inline constexpr std::size_t fat_sectors = 36;    // 4 bytes
inline constexpr std::size_t ext_flags = 40;      // bit 7: mirroring off; bits 0-3: the active FAT
inline constexpr std::size_t version = 42;        // zero
inline constexpr std::size_t root_cluster = 44;   // 4 bytes
inline constexpr std::size_t fsinfo_sector = 48;
inline constexpr std::size_t backup_sector = 50;
inline constexpr std::size_t reserved_zero = 52; // 12 bytes
inline constexpr std::size_t drive_number = 64;  // 1 byte
inline constexpr std::size_t reserved_byte = 65;
// Bit 0 of it: in use, or not unmounted. Linux sets it (include/uapi/linux/msdos_fs.h, `state`).
inline constexpr std::uint8_t in_use = 0x01;
inline constexpr std::size_t boot_signature = 66; // 0x29: the next three fields are there
inline constexpr std::size_t volume_serial = 67;  // 4 bytes
inline constexpr std::size_t label = 71;          // 11 bytes
inline constexpr std::size_t type_text = 82;      // 8 bytes, "FAT32   "
inline constexpr std::size_t boot_code = 90;
inline constexpr std::size_t signature = 510; // 55 AA
inline constexpr std::uint16_t signature_value = 0xAA55;
inline constexpr std::uint8_t extended_signature = 0x29;
inline constexpr std::uint16_t mirroring_off = 0x0080;
inline constexpr std::uint16_t active_fat_mask = 0x000F;
inline constexpr std::uint8_t media_fixed = 0xF8;
inline constexpr std::uint8_t media_removable = 0xF0; // F8 to FF and F0 are legal
inline constexpr std::uint16_t usual_fsinfo_sector = 1;
inline constexpr std::uint16_t usual_backup_sector = 6;
inline constexpr std::uint16_t boot_record_sectors = 3;
inline constexpr std::uint16_t usual_reserved_sectors = 32;
inline constexpr std::uint32_t usual_root_cluster = 2;
} // namespace boot

// FSInfo [5]: sector 1 of the volume.
namespace fsinfo {
inline constexpr std::size_t lead = 0;
inline constexpr std::size_t structure = 484;
inline constexpr std::size_t free_clusters = 488;
inline constexpr std::size_t next_free = 492; // where to look first
inline constexpr std::size_t trail = 508;
inline constexpr std::uint32_t lead_value = 0x41615252;
inline constexpr std::uint32_t structure_value = 0x61417272;
inline constexpr std::uint32_t trail_value = 0xAA550000;
inline constexpr std::uint32_t unknown = 0xFFFFFFFF;
} // namespace fsinfo

// FAT entries [4.2, 4.4]: 4 bytes, of which the highest 4 bits are kept as they are.
inline constexpr std::uint32_t entry_mask = 0x0FFFFFFF;
inline constexpr std::uint32_t entry_free = 0;
inline constexpr std::uint32_t entry_bad = 0x0FFFFFF7;
inline constexpr std::uint32_t entry_end_min = 0x0FFFFFF8; // any from here on ends a chain
inline constexpr std::uint32_t entry_end = 0x0FFFFFFF;     // the one that is written
inline constexpr std::uint32_t first_cluster = 2;          // entries 0 and 1 are not clusters
inline constexpr std::uint32_t entry0_high = 0x0FFFFF00;   // entry 0: this, and the media byte
inline constexpr std::uint32_t entry1_clean = 0x08000000;  // entry 1: set after a clean unmount
inline constexpr std::uint32_t entry1_no_errors = 0x04000000;
inline constexpr std::uint32_t entries_per_sector = sector_bytes / 4;

// Directory entries [6]: 32 bytes.
namespace entry {
inline constexpr std::size_t bytes = 32;
inline constexpr std::size_t name = 0; // 8 and 3 bytes, filled up with spaces
inline constexpr std::size_t name_bytes = 11;
inline constexpr std::size_t attributes = 11;
inline constexpr std::size_t case_bits = 12; // lower case: 0x08 the base, 0x10 the extension
inline constexpr std::size_t created_hundredths = 13;
inline constexpr std::size_t created_time = 14;
inline constexpr std::size_t created_date = 16;
inline constexpr std::size_t accessed_date = 18;
inline constexpr std::size_t cluster_high = 20;
inline constexpr std::size_t written_time = 22;
inline constexpr std::size_t written_date = 24;
inline constexpr std::size_t cluster_low = 26;
inline constexpr std::size_t size = 28;
inline constexpr std::uint8_t mark_end = 0x00;     // this entry and all after it are free
inline constexpr std::uint8_t mark_deleted = 0xE5; // this entry is free
inline constexpr std::uint8_t mark_kanji = 0x05;   // stands for a first byte of 0xE5
inline constexpr std::uint8_t read_only = 0x01;
inline constexpr std::uint8_t hidden = 0x02;
inline constexpr std::uint8_t system = 0x04;
inline constexpr std::uint8_t volume_id = 0x08;
inline constexpr std::uint8_t folder = 0x10;
inline constexpr std::uint8_t archive = 0x20;
inline constexpr std::uint8_t long_name = 0x0F; // of the six bits below
inline constexpr std::uint8_t attribute_mask = 0x3F;
inline constexpr std::uint8_t lower_base = 0x08;
inline constexpr std::uint8_t lower_extension = 0x10;
} // namespace entry

inline constexpr std::uint32_t max_folder_entries = 65536; // 2 MiB a folder [6]
inline constexpr std::uint32_t entries_per_dir_sector = sector_bytes / entry::bytes;

// Long-name entries [7]: they stand before their short entry, last part first.
namespace long_entry {
inline constexpr std::size_t ordinal = 0;
inline constexpr std::uint8_t last_flag = 0x40;
inline constexpr std::uint8_t ordinal_mask = 0x3F;
inline constexpr std::size_t type = 12; // zero
inline constexpr std::size_t checksum = 13;
inline constexpr std::size_t cluster_low = 26; // zero
inline constexpr std::size_t units = 13;       // UTF-16 units an entry
inline constexpr std::size_t max_units = 255;  // a name
inline constexpr std::size_t max_entries = 20;
// where in the entry each unit stands
inline constexpr std::uint8_t unit_offset[units] = {1, 3, 5, 7, 9, 14, 16, 18, 20, 22, 24, 28, 30};
} // namespace long_entry

// Over the 11 bytes of the short name [7.2].
std::uint8_t long_name_checksum(ByteView short_name);

// Sectors of one FAT by the specification's formula [3.4], which may be a few too many, never too
// few. reserved < total, sectors_per_cluster and fat_count > 0.
std::uint32_t fat_sectors_for(std::uint32_t total, std::uint32_t reserved,
                              std::uint32_t sectors_per_cluster, std::uint32_t fat_count);

// Time stamps [6.4]: steps of two seconds, 1980 to 2107.
struct Stamp {
  std::uint16_t date = 0;
  std::uint16_t time = 0;
  std::uint8_t hundredths = 0; // 0 to 199, what `time` leaves out; creation only
};
bool pack_stamp(const Utc& utc, Stamp& out);     // false outside 1980 to 2107 or for no real date
bool unpack_stamp(const Stamp& stamp, Utc& out); // false when the fields are no real time

// A sector number as a partition entry's cylinder, head and sector; the largest that there is when
// it does not fit (cylinder 1023).
struct Geometry {
  std::uint16_t heads = 255;
  std::uint16_t sectors_per_track = 63;
};
void store_chs(std::uint8_t* at, std::uint32_t lba, Geometry geometry);

} // namespace cardseal::format::fat
