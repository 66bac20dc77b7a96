#include <algorithm>
#include <string_view>

#include "fat32/writer.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
namespace boot = format::fat::boot;

// Stops a computer that tries to start from the card: halt, again after every interrupt (Intel 64
// and IA-32 manual, volume 2: HLT is F4, JMP rel8 is EB).
constexpr std::uint8_t halt_code[] = {0xF4, 0xEB, 0xFD};

void put(Sector& sector, std::size_t at, std::string_view text) {
  copy(ByteSpan(sector).subspan(at, text.size()), bytes_of(text));
}

void sign(Sector& sector) {
  store_le16(&sector[boot::signature], boot::signature_value);
}

} // namespace

Sector boot_sector_of(const VolumePlan& plan) {
  const VolumeShape& shape = plan.shape;
  Sector sector{};
  const std::uint8_t jump[] = {0xEB, boot::boot_code - 2, 0x90};
  std::copy(std::begin(jump), std::end(jump), sector.begin());
  put(sector, boot::oem_name, "CARDSEAL");
  store_le16(&sector[boot::bytes_per_sector], fat::sector_bytes);
  sector[boot::sectors_per_cluster] = static_cast<std::uint8_t>(shape.sectors_per_cluster);
  store_le16(&sector[boot::reserved_sectors], static_cast<std::uint16_t>(shape.reserved_sectors));
  sector[boot::fat_count] = 2;
  sector[boot::media] = boot::media_fixed;
  store_le16(&sector[boot::sectors_per_track], plan.options.geometry.sectors_per_track);
  store_le16(&sector[boot::heads], plan.options.geometry.heads);
  store_le32(&sector[boot::hidden_sectors], shape.partition_lba);
  store_le32(&sector[boot::total_sectors], shape.total_sectors);
  store_le32(&sector[boot::fat_sectors], shape.fat_sectors);
  store_le32(&sector[boot::root_cluster], plan.folders.front().first_cluster);
  store_le16(&sector[boot::fsinfo_sector], boot::usual_fsinfo_sector);
  store_le16(&sector[boot::backup_sector], boot::usual_backup_sector);
  sector[boot::drive_number] = 0x80;
  sector[boot::boot_signature] = boot::extended_signature;
  store_le32(&sector[boot::volume_serial], plan.options.volume_serial);
  put(sector, boot::label, text_of(plan.label));
  put(sector, boot::type_text, "FAT32   ");
  std::copy(std::begin(halt_code), std::end(halt_code), sector.begin() + boot::boot_code);
  sign(sector);
  return sector;
}

Sector fsinfo_sector_of(const VolumePlan& plan) {
  Sector sector{};
  store_le32(&sector[fat::fsinfo::lead], fat::fsinfo::lead_value);
  store_le32(&sector[fat::fsinfo::structure], fat::fsinfo::structure_value);
  store_le32(&sector[fat::fsinfo::free_clusters], plan.free_clusters());
  // The last cluster when none is free: "unknown" makes some readers search or show nonsense.
  const std::uint32_t next = fat::first_cluster + plan.used_clusters;
  store_le32(&sector[fat::fsinfo::next_free], std::min(next, plan.shape.cluster_count + 1));
  store_le32(&sector[fat::fsinfo::trail], fat::fsinfo::trail_value);
  return sector;
}

Sector mbr_of(const VolumePlan& plan) {
  const VolumeShape& shape = plan.shape;
  Sector sector{};
  std::copy(std::begin(halt_code), std::end(halt_code), sector.begin() + fat::mbr::boot_code);
  store_le32(&sector[fat::mbr::disk_signature], plan.options.volume_serial);
  std::uint8_t* entry = &sector[fat::mbr::entries];
  const fat::Geometry geometry = plan.options.geometry;
  fat::store_chs(entry + fat::mbr::first_chs, shape.partition_lba, geometry);
  entry[fat::mbr::type] = plan.options.partition_type;
  fat::store_chs(entry + fat::mbr::last_chs, shape.partition_lba + shape.total_sectors - 1,
                 geometry);
  store_le32(entry + fat::mbr::first_lba, shape.partition_lba);
  store_le32(entry + fat::mbr::sector_count, shape.total_sectors);
  sign(sector);
  return sector;
}

} // namespace cardseal::fat32
