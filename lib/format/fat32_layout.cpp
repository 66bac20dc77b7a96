#include "format/fat32_layout.h"

#include "base/checked.h"

namespace cardseal::format::fat {

std::uint8_t long_name_checksum(ByteView short_name) {
  unsigned sum = 0;
  for (const std::uint8_t byte : short_name) {
    sum = ((((sum & 1U) << 7) | (sum >> 1)) + byte) & 0xFFU;
  }
  return static_cast<std::uint8_t>(sum);
}

std::uint32_t fat_sectors_for(std::uint32_t total, std::uint32_t reserved,
                              std::uint32_t sectors_per_cluster, std::uint32_t fat_count) {
  const std::uint32_t covered = (256 * sectors_per_cluster + fat_count) / 2;
  return divide_up(total - reserved, covered);
}

bool pack_stamp(const Utc& utc, Stamp& out) {
  if (!is_real_date(utc) || utc.year < 1980 || utc.year > 2107) {
    return false;
  }
  out.date = static_cast<std::uint16_t>(((utc.year - 1980) << 9) | (utc.month << 5) | utc.day);
  out.time = static_cast<std::uint16_t>((utc.hour << 11) | (utc.minute << 5) | (utc.second / 2));
  out.hundredths = static_cast<std::uint8_t>((utc.second % 2) * 100);
  return true;
}

bool unpack_stamp(const Stamp& stamp, Utc& out) {
  Utc utc;
  utc.year = static_cast<std::uint16_t>(1980 + (stamp.date >> 9));
  utc.month = static_cast<std::uint8_t>((stamp.date >> 5) & 0x0F);
  utc.day = static_cast<std::uint8_t>(stamp.date & 0x1F);
  utc.hour = static_cast<std::uint8_t>(stamp.time >> 11);
  utc.minute = static_cast<std::uint8_t>((stamp.time >> 5) & 0x3F);
  utc.second = static_cast<std::uint8_t>((stamp.time & 0x1F) * 2 + stamp.hundredths / 100);
  if (!is_real_date(utc)) {
    return false;
  }
  out = utc;
  return true;
}

void store_chs(std::uint8_t* at, std::uint32_t lba, Geometry geometry) {
  const std::uint32_t track = geometry.sectors_per_track;
  std::uint32_t cylinder = lba / track / geometry.heads;
  std::uint32_t head = lba / track % geometry.heads;
  std::uint32_t sector = lba % track + 1;
  if (cylinder > 1023) {
    cylinder = 1023;
    head = geometry.heads - 1U;
    sector = track;
  }
  at[0] = static_cast<std::uint8_t>(head);
  at[1] = static_cast<std::uint8_t>(sector | ((cylinder >> 8) << 6));
  at[2] = static_cast<std::uint8_t>(cylinder);
}

} // namespace cardseal::format::fat
