#include "loader/card_volume.h"

#include "base/checked.h"
#include "format/fat32_layout.h"
#include "loader/need.h"

namespace cardseal::loader {
namespace {

namespace fat = format::fat;
using Sector = std::array<std::uint8_t, fat::sector_bytes>;

constexpr std::uint8_t max_sectors_per_cluster = 128; // 64 KiB, the most any reader takes

Outcome read_sectors(const SectorReader& reader, std::uint32_t lba, ByteSpan out) {
  const std::uint32_t count = static_cast<std::uint32_t>(out.size() / fat::sector_bytes);
  const bool on_card = lba < reader.sector_count && count <= reader.sector_count - lba;
  const bool good = on_card && reader.read(reader.context, lba, out);
  if (!good) {
    fill(out, 0);
  }
  return need(good, Fault::card_read, lba);
}

bool has_signature(const Sector& sector) {
  return load_le16(&sector[fat::boot::signature]) == fat::boot::signature_value;
}

bool is_volume_start(const Sector& sector) {
  const bool jump = sector[0] == 0xE9 || (sector[0] == 0xEB && sector[2] == 0x90);
  return has_signature(sector) && jump &&
         slice(text_of(sector), fat::boot::type_text, 8) == "FAT32   ";
}

struct Partition {
  std::uint32_t lba = 0;
  std::uint32_t sector_count = 0;
};

// The one partition of a master boot record; false when there is no such record.
bool read_partition(const Sector& sector, std::uint32_t card_sectors, Partition& out) {
  for (std::size_t i = 1; i < fat::mbr::entry_count; ++i) {
    if (sector[fat::mbr::entries + i * fat::mbr::entry_bytes + fat::mbr::type] != 0) {
      return false;
    }
  }
  const std::uint8_t* entry = &sector[fat::mbr::entries];
  const std::uint8_t type = entry[fat::mbr::type];
  out.lba = load_le32(entry + fat::mbr::first_lba);
  out.sector_count = load_le32(entry + fat::mbr::sector_count);
  return has_signature(sector) &&
         (type == fat::mbr::type_fat32_chs || type == fat::mbr::type_fat32_lba) && out.lba > 0 &&
         out.lba < card_sectors && out.sector_count <= card_sectors - out.lba;
}

bool is_power_of_two(std::uint32_t value) {
  return value != 0 && (value & (value - 1)) == 0;
}

bool boot_form_good(const Sector& boot) {
  const std::uint8_t media = boot[fat::boot::media];
  return is_volume_start(boot) && load_le16(&boot[fat::boot::bytes_per_sector]) == 512 &&
         is_power_of_two(boot[fat::boot::sectors_per_cluster]) &&
         boot[fat::boot::sectors_per_cluster] <= max_sectors_per_cluster &&
         load_le16(&boot[fat::boot::reserved_sectors]) != 0 && boot[fat::boot::fat_count] >= 1 &&
         boot[fat::boot::fat_count] <= 2 && load_le16(&boot[fat::boot::root_entries]) == 0 &&
         load_le16(&boot[fat::boot::total_sectors_16]) == 0 &&
         load_le16(&boot[fat::boot::fat_sectors_16]) == 0 &&
         load_le16(&boot[fat::boot::version]) == 0 &&
         (load_le16(&boot[fat::boot::ext_flags]) & fat::boot::mirroring_off) == 0 &&
         (media >= fat::boot::media_fixed || media == fat::boot::media_removable);
}

// False when the numbers of the boot sector do not add up to a FAT32 volume within the partition.
bool read_shape(const Sector& boot, const Partition& partition, Volume& volume) {
  const std::uint64_t total = load_le32(&boot[fat::boot::total_sectors]);
  const std::uint64_t fat_sectors = load_le32(&boot[fat::boot::fat_sectors]);
  const std::uint64_t reserved = load_le16(&boot[fat::boot::reserved_sectors]);
  const std::uint64_t before_data = reserved + boot[fat::boot::fat_count] * fat_sectors;
  if (total > partition.sector_count || before_data >= total) {
    return false;
  }
  volume.sectors_per_cluster = boot[fat::boot::sectors_per_cluster];
  const std::uint64_t clusters = (total - before_data) / volume.sectors_per_cluster;
  volume.cluster_count = static_cast<std::uint32_t>(clusters);
  volume.fat_lba = static_cast<std::uint32_t>(partition.lba + reserved);
  volume.data_lba = static_cast<std::uint32_t>(partition.lba + before_data);
  volume.root_cluster = load_le32(&boot[fat::boot::root_cluster]);
  return clusters >= fat::fewest_clusters_fat32 &&
         fat_sectors * fat::entries_per_sector >= clusters + fat::first_cluster &&
         volume.root_cluster >= fat::first_cluster &&
         volume.root_cluster - fat::first_cluster < clusters;
}

bool is_cluster(const Volume& volume, std::uint32_t cluster) {
  return cluster >= fat::first_cluster && cluster - fat::first_cluster < volume.cluster_count;
}

std::uint32_t cluster_bytes(const Volume& volume) {
  return volume.sectors_per_cluster * fat::sector_bytes;
}

std::uint32_t lba_of(const Volume& volume, std::uint32_t cluster) {
  return volume.data_lba + (cluster - fat::first_cluster) * volume.sectors_per_cluster;
}

std::uint32_t clusters_of(const CardFile& file) {
  return divide_up(file.size, cluster_bytes(*file.volume));
}

// Follows chains, keeping the FAT sector read last.
class Fat {
public:
  explicit Fat(const Volume& volume) : volume_(volume) {}

  // What the FAT holds for `cluster`, without its four highest bits.
  Outcome entry(std::uint32_t cluster, std::uint32_t& out) {
    const std::uint32_t lba = volume_.fat_lba + cluster / fat::entries_per_sector;
    if (lba != lba_) {
      const Outcome outcome = read_sectors(*volume_.reader, lba, sector_);
      if (!outcome.ok()) {
        return outcome;
      }
      lba_ = lba;
    }
    out =
        load_le32(&sector_[std::size_t{4} * (cluster % fat::entries_per_sector)]) & fat::entry_mask;
    return done;
  }

  // The cluster after `cluster`; 504 when the chain ends or leaves the volume.
  Outcome step(std::uint32_t& cluster) {
    std::uint32_t next = 0;
    const Outcome outcome = entry(cluster, next);
    if (!outcome.ok() || !is_cluster(volume_, next)) {
      return outcome.ok() ? need(false, Fault::card_chain, lba_) : outcome;
    }
    cluster = next;
    return done;
  }
  std::uint32_t lba() const { return lba_; }

private:
  const Volume& volume_;
  std::uint32_t lba_ = 0; // no FAT starts at sector 0
  Sector sector_{};
};

// The chain has as many clusters as the size needs, and ends there.
Outcome judge_chain(const CardFile& file) {
  const std::uint32_t count = clusters_of(file);
  if (count == 0) {
    return need(file.first_cluster == 0, Fault::card_chain);
  }
  // A size that the volume can't hold is not worth a walk.
  if (!is_cluster(*file.volume, file.first_cluster) || count > file.volume->cluster_count) {
    return need(false, Fault::card_chain);
  }
  Fat table(*file.volume);
  std::uint32_t cluster = file.first_cluster;
  for (std::uint32_t i = 1; i < count; ++i) {
    const Outcome outcome = table.step(cluster);
    if (!outcome.ok()) {
      return outcome;
    }
  }
  std::uint32_t last = 0;
  const Outcome outcome = table.entry(cluster, last);
  return outcome.ok() ? need(last >= fat::entry_end_min, Fault::card_chain, table.lba()) : outcome;
}

using ShortName = std::array<char, fat::entry::name_bytes>;

// "CARD.TXT" as it stands in a directory entry; false when it is no 8.3 name.
bool short_name_of(std::string_view name, ShortName& out) {
  const std::size_t dot = name.find('.');
  const std::string_view base = slice(name, 0, dot);
  const std::string_view extension =
      dot == std::string_view::npos ? std::string_view{} : slice(name, dot + 1);
  if (base.empty() || base.size() > 8 || extension.size() > 3 ||
      (dot != std::string_view::npos && extension.empty()) ||
      extension.find('.') != std::string_view::npos) {
    return false;
  }
  for (char& c : out) {
    c = ' ';
  }
  for (std::size_t i = 0; i < base.size(); ++i) {
    out[i] = base[i];
  }
  for (std::size_t i = 0; i < extension.size(); ++i) {
    out[8 + i] = extension[i];
  }
  return true;
}

enum class Scan : std::uint8_t { go_on, found, end };

struct Entry {
  std::uint32_t first_cluster = 0;
  std::uint32_t size = 0;
};

Scan scan_sector(const Sector& sector, const ShortName& name, bool folder, Entry& out) {
  for (std::size_t i = 0; i < fat::entries_per_dir_sector; ++i) {
    const std::uint8_t* at = &sector[i * fat::entry::bytes];
    if (at[0] == fat::entry::mark_end) {
      return Scan::end;
    }
    const std::uint8_t attributes = at[fat::entry::attributes];
    const bool other = (attributes & fat::entry::volume_id) != 0 || // also long-name entries
                       ((attributes & fat::entry::folder) != 0) != folder;
    if (!other && equal({at, name.size()}, bytes_of({name.data(), name.size()}))) {
      const std::uint32_t high = load_le16(at + fat::entry::cluster_high);
      out.first_cluster =
          ((high << 16) | load_le16(at + fat::entry::cluster_low)) & fat::entry_mask;
      out.size = load_le32(at + fat::entry::size);
      return Scan::found;
    }
  }
  return Scan::go_on;
}

// Looks for `name` in the folder that starts at `cluster`.
Outcome scan_folder(const Volume& volume, std::uint32_t cluster, const ShortName& name, bool folder,
                    Entry& out) {
  if (!is_cluster(volume, cluster)) {
    return need(false, Fault::card_chain);
  }
  Fat table(volume);
  Sector sector{};
  const std::uint32_t most_sectors = fat::max_folder_entries / fat::entries_per_dir_sector;
  for (std::uint32_t n = 0; n < most_sectors; ++n) {
    const std::uint32_t in_cluster = n % volume.sectors_per_cluster;
    Outcome outcome = done;
    if (n > 0 && in_cluster == 0) {
      std::uint32_t next = 0;
      outcome = table.entry(cluster, next);
      if (outcome.ok() && next >= fat::entry_end_min) {
        return need(false, Fault::card_missing, lba_of(volume, cluster));
      }
      outcome = outcome.ok() ? table.step(cluster) : outcome;
    }
    if (outcome.ok()) {
      outcome = read_sectors(*volume.reader, lba_of(volume, cluster) + in_cluster, sector);
    }
    if (!outcome.ok()) {
      return outcome;
    }
    const Scan scan = scan_sector(sector, name, folder, out);
    if (scan != Scan::go_on) {
      return scan == Scan::found ? done : need(false, Fault::card_missing, lba_of(volume, cluster));
    }
  }
  return need(false, Fault::card_chain, lba_of(volume, cluster));
}

Outcome go_to(CardFile& file, std::uint32_t index) {
  if (index < file.walk_index || file.walk_cluster == 0) {
    file.walk_index = 0;
    file.walk_cluster = file.first_cluster;
  }
  Fat table(*file.volume);
  while (file.walk_index < index) {
    const Outcome outcome = table.step(file.walk_cluster);
    if (!outcome.ok()) {
      file.walk_cluster = 0;
      return outcome;
    }
    ++file.walk_index;
  }
  return done;
}

// Reads what of `out` lies in one cluster or in one part of a sector; `taken` bytes of it.
Outcome read_piece(CardFile& file, std::uint32_t offset, ByteSpan out, std::size_t& taken) {
  const Volume& volume = *file.volume;
  const Outcome found = go_to(file, offset / cluster_bytes(volume));
  if (!found.ok()) {
    return found;
  }
  const std::uint32_t in_cluster = offset % cluster_bytes(volume);
  const std::uint32_t lba = lba_of(volume, file.walk_cluster) + in_cluster / fat::sector_bytes;
  const std::uint32_t in_sector = in_cluster % fat::sector_bytes;
  if (in_sector == 0 && out.size() >= fat::sector_bytes) {
    const std::size_t left = cluster_bytes(volume) - in_cluster;
    taken = (out.size() < left ? out.size() : left) & ~std::size_t{fat::sector_bytes - 1};
    return read_sectors(*volume.reader, lba, out.first(taken));
  }
  Sector sector{};
  const Outcome outcome = read_sectors(*volume.reader, lba, sector);
  const std::size_t left = fat::sector_bytes - in_sector;
  taken = out.size() < left ? out.size() : left;
  copy(out.first(taken), ByteView(sector).subspan(in_sector, taken));
  return outcome;
}

Outcome read_file(void* context, std::uint32_t offset, ByteSpan out) {
  CardFile& file = *static_cast<CardFile*>(context);
  if (offset > file.size || out.size() > file.size - offset) {
    return refuse(Fault::card_chain); // a caller's mistake: sources know their size
  }
  while (!out.empty()) {
    std::size_t taken = 0;
    const Outcome outcome = read_piece(file, offset, out, taken);
    if (!outcome.ok()) {
      return outcome;
    }
    offset += static_cast<std::uint32_t>(taken);
    out = out.subspan(taken);
  }
  return done;
}

} // namespace

Outcome open_volume(const SectorReader& reader, Volume& volume) {
  volume = {};
  volume.reader = &reader;
  Sector sector{};
  Outcome outcome = read_sectors(reader, 0, sector);
  if (!outcome.ok()) {
    return outcome;
  }
  Partition partition{0, reader.sector_count};
  if (!is_volume_start(sector)) {
    const bool table = read_partition(sector, reader.sector_count, partition);
    outcome = need(table, Fault::card_sector0);
    if (outcome.ok()) {
      outcome = read_sectors(reader, partition.lba, sector);
    }
  }
  const bool good = boot_form_good(sector) && read_shape(sector, partition, volume);
  return outcome.ok() ? need(good, Fault::card_volume, partition.lba) : outcome;
}

Outcome find_file(const Volume& volume, std::string_view path, CardFile& file) {
  file = {};
  file.volume = &volume;
  Entry entry{volume.root_cluster, 0};
  while (true) {
    const std::size_t end = path.find('/');
    const bool folder = end != std::string_view::npos;
    ShortName name{};
    Outcome outcome = need(short_name_of(slice(path, 0, end), name), Fault::card_list);
    if (outcome.ok()) {
      outcome = scan_folder(volume, entry.first_cluster, name, folder, entry);
    }
    if (!outcome.ok()) {
      return outcome;
    }
    if (!folder) {
      break;
    }
    path = slice(path, end + 1);
  }
  file.size = entry.size;
  file.first_cluster = entry.first_cluster;
  return judge_chain(file);
}

format::Source source_of(CardFile& file) {
  return {&file, read_file, file.size};
}

bool extent_of(const CardFile& file, format::LogExtent& extent) {
  Fat table(*file.volume);
  std::uint32_t cluster = file.first_cluster;
  for (std::uint32_t i = 1; i < clusters_of(file); ++i) {
    const std::uint32_t before = cluster;
    if (!table.step(cluster).ok() || cluster != before + 1) {
      return false;
    }
  }
  extent.first = file.size == 0 ? 0 : lba_of(*file.volume, file.first_cluster);
  extent.count = file.size / fat::sector_bytes;
  return file.size % fat::sector_bytes == 0;
}

} // namespace cardseal::loader
