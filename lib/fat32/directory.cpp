#include "fat32/directory.h"

#include <algorithm>

#include "base/checked.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
namespace entry = format::fat::entry;
namespace long_entry = format::fat::long_entry;

ShortName dots(std::size_t count) {
  ShortName name;
  name.fill(' ');
  std::fill_n(name.begin(), count, std::uint8_t{'.'});
  return name;
}

class DirectoryMaker {
public:
  DirectoryMaker(const fat::Stamp& stamp, std::size_t bytes) : stamp_(stamp), out_(bytes, 0) {}

  void add_short(const ShortName& name, std::uint8_t attributes, std::uint32_t cluster,
                 std::uint32_t size);
  void add_long(const std::u16string& name, const ShortName& short_name);
  std::vector<std::uint8_t> take() { return std::move(out_); }

private:
  fat::Stamp stamp_;
  std::vector<std::uint8_t> out_;
  std::size_t at_ = 0;
};

void DirectoryMaker::add_short(const ShortName& name, std::uint8_t attributes,
                               std::uint32_t cluster, std::uint32_t size) {
  std::uint8_t* at = &out_[at_];
  at_ += entry::bytes;
  std::copy(name.begin(), name.end(), at + entry::name);
  at[entry::attributes] = attributes;
  if (attributes != entry::volume_id) { // a label has only the time of writing
    at[entry::created_hundredths] = stamp_.hundredths;
    store_le16(at + entry::created_time, stamp_.time);
    store_le16(at + entry::created_date, stamp_.date);
    store_le16(at + entry::accessed_date, stamp_.date);
  }
  store_le16(at + entry::written_time, stamp_.time);
  store_le16(at + entry::written_date, stamp_.date);
  store_le16(at + entry::cluster_high, static_cast<std::uint16_t>(cluster >> 16));
  store_le16(at + entry::cluster_low, static_cast<std::uint16_t>(cluster));
  store_le32(at + entry::size, size);
}

void DirectoryMaker::add_long(const std::u16string& name, const ShortName& short_name) {
  const std::uint8_t checksum = fat::long_name_checksum(short_name);
  const std::size_t parts = divide_up(name.size(), long_entry::units);
  for (std::size_t part = parts; part > 0; --part) {
    std::uint8_t* at = &out_[at_];
    at_ += entry::bytes;
    at[long_entry::ordinal] =
        static_cast<std::uint8_t>(part | (part == parts ? long_entry::last_flag : 0U));
    at[entry::attributes] = entry::long_name;
    at[long_entry::checksum] = checksum;
    for (std::size_t i = 0; i < long_entry::units; ++i) {
      const std::size_t unit = (part - 1) * long_entry::units + i;
      // One zero after the name where there is room, then all ones [7.3].
      const std::uint16_t padding = unit == name.size() ? 0x0000 : 0xFFFF;
      store_le16(at + long_entry::unit_offset[i], unit < name.size() ? name[unit] : padding);
    }
  }
}

} // namespace

std::vector<std::uint8_t> directory_bytes(const VolumePlan& plan, std::uint32_t index) {
  const PlannedFolder& folder = plan.folders[index];
  fat::Stamp stamp;
  fat::pack_stamp(plan.options.time, stamp);
  DirectoryMaker maker(stamp, std::size_t{folder.cluster_count} * plan.shape.cluster_bytes());
  if (index == 0) {
    maker.add_short(plan.label, entry::volume_id, 0, 0);
  } else {
    maker.add_short(dots(1), entry::folder, folder.first_cluster, 0);
    // The root is called 0 here, whatever its cluster [6.5].
    const std::uint32_t above = folder.parent == 0 ? 0 : plan.folders[folder.parent].first_cluster;
    maker.add_short(dots(2), entry::folder, above, 0);
  }
  for (const PlannedEntry& each : folder.entries) {
    maker.add_long(each.long_name, each.short_name);
    if (each.folder) {
      maker.add_short(each.short_name, entry::folder, plan.folders[each.index].first_cluster, 0);
    } else {
      const PlannedFile& file = plan.files[each.index];
      maker.add_short(each.short_name, entry::archive, file.first_cluster,
                      static_cast<std::uint32_t>(file.size));
    }
  }
  return maker.take();
}

} // namespace cardseal::fat32
