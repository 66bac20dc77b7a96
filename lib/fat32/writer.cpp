#include "fat32/writer.h"

#include <algorithm>

#include "base/checked.h"
#include "fat32/directory.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
namespace boot = format::fat::boot;

constexpr std::size_t buffer_sectors = 128;
constexpr std::size_t block_sectors = 8; // 4 KiB: what a file system keeps as a hole

bool is_zero(ByteView bytes) {
  return std::all_of(bytes.begin(), bytes.end(), [](std::uint8_t byte) { return byte == 0; });
}

// Writes sectors, passing whole blocks of zeros on as such.
Try<void> write_or_zero(SectorSink& sink, std::uint32_t lba, ByteView sectors) {
  while (!sectors.empty()) {
    const bool zeros = is_zero(sectors.first(std::min(sectors.size(), block_sectors * 512)));
    std::size_t run = 0;
    while (run < sectors.size()) {
      const std::size_t block = std::min(sectors.size() - run, block_sectors * 512);
      if (is_zero(sectors.subspan(run, block)) != zeros) {
        break;
      }
      run += block;
    }
    const auto count = static_cast<std::uint32_t>(run / fat::sector_bytes);
    Try<void> done = zeros ? sink.zero(lba, count) : sink.write(lba, sectors.first(run));
    if (!done) {
      return done;
    }
    lba += count;
    sectors = sectors.subspan(run);
  }
  return {};
}

class VolumeWriter {
public:
  VolumeWriter(const VolumePlan& plan, const ContentSource& content, SectorSink& sink)
      : plan_(plan), shape_(plan.shape), content_(content), sink_(sink) {}

  Try<void> write();

private:
  Try<void> write_reserved();
  Try<void> write_boot_record(std::uint32_t lba);
  Try<void> write_fat(std::uint32_t lba);
  Try<void> write_folders();
  Try<void> write_file(const PlannedFile& file);

  const VolumePlan& plan_;
  const VolumeShape& shape_;
  const ContentSource& content_;
  SectorSink& sink_;
  std::vector<std::uint8_t> buffer_ = std::vector<std::uint8_t>(buffer_sectors * 512);
};

// FAT entries in ascending order, from the plan's runs.
class FatEntries {
public:
  explicit FatEntries(const VolumePlan& plan);
  std::uint32_t next();

private:
  std::vector<std::uint32_t> run_ends_; // ascending: the plan leaves no gap
  std::size_t run_ = 0;
  std::uint32_t cluster_ = 0;
};

FatEntries::FatEntries(const VolumePlan& plan) {
  for (const PlannedFolder& folder : plan.folders) {
    run_ends_.push_back(folder.first_cluster + folder.cluster_count);
  }
  for (const PlannedFile& file : plan.files) {
    if (file.cluster_count != 0) {
      run_ends_.push_back(file.first_cluster + file.cluster_count);
    }
  }
}

std::uint32_t FatEntries::next() {
  const std::uint32_t cluster = cluster_++;
  if (cluster == 0) {
    return fat::entry0_high | boot::media_fixed;
  }
  if (cluster == 1) {
    return fat::entry_end; // clean, no errors
  }
  if (run_ == run_ends_.size()) {
    return fat::entry_free;
  }
  if (cluster + 1 == run_ends_[run_]) {
    ++run_;
    return fat::entry_end;
  }
  return cluster + 1;
}

Try<void> VolumeWriter::write_boot_record(std::uint32_t lba) {
  Sector last{};
  store_le16(&last[boot::signature], boot::signature_value);
  const Sector sectors[] = {boot_sector_of(plan_), fsinfo_sector_of(plan_), last};
  for (const Sector& sector : sectors) {
    if (Try<void> done = sink_.write(lba++, sector); !done) {
      return done;
    }
  }
  return {};
}

Try<void> VolumeWriter::write_reserved() {
  const std::uint32_t first = shape_.partition_lba;
  if (first != 0) {
    if (Try<void> done = sink_.write(0, mbr_of(plan_)); !done) {
      return done;
    }
    if (Try<void> done = sink_.zero(1, first - 1); !done) {
      return done;
    }
  }
  if (Try<void> done = write_boot_record(first); !done) {
    return done;
  }
  const std::uint32_t copy_end = boot::usual_backup_sector + boot::boot_record_sectors;
  if (Try<void> done =
          sink_.zero(first + boot::boot_record_sectors,
                     std::uint32_t{boot::usual_backup_sector} - boot::boot_record_sectors);
      !done) {
    return done;
  }
  if (Try<void> done = write_boot_record(first + boot::usual_backup_sector); !done) {
    return done;
  }
  return sink_.zero(first + copy_end, shape_.reserved_sectors - copy_end);
}

Try<void> VolumeWriter::write_fat(std::uint32_t lba) {
  FatEntries entries(plan_);
  const std::uint32_t used =
      divide_up(plan_.used_clusters + fat::first_cluster, fat::entries_per_sector);
  for (std::uint32_t sector = 0; sector < used;) {
    const std::uint32_t now = std::min<std::uint32_t>(used - sector, buffer_sectors);
    const ByteSpan part = ByteSpan(buffer_).first(std::size_t{now} * fat::sector_bytes);
    for (std::size_t at = 0; at < part.size(); at += 4) {
      store_le32(&part[at], entries.next());
    }
    if (Try<void> done = sink_.write(lba + sector, part); !done) {
      return done;
    }
    sector += now;
  }
  return sink_.zero(lba + used, shape_.fat_sectors - used);
}

Try<void> VolumeWriter::write_folders() {
  for (std::uint32_t i = 0; i < plan_.folders.size(); ++i) {
    const std::vector<std::uint8_t> bytes = directory_bytes(plan_, i);
    const std::uint32_t lba = shape_.lba_of(plan_.folders[i].first_cluster);
    if (Try<void> done = write_or_zero(sink_, lba, bytes); !done) {
      return done;
    }
  }
  return {};
}

Try<void> VolumeWriter::write_file(const PlannedFile& file) {
  std::uint32_t lba = file.extent.first_lba;
  const std::uint32_t end = lba + file.cluster_count * shape_.sectors_per_cluster;
  for (std::uint64_t offset = 0; offset < file.size;) {
    const std::size_t now =
        static_cast<std::size_t>(std::min<std::uint64_t>(file.size - offset, buffer_.size()));
    const ByteSpan sectors =
        ByteSpan(buffer_).first(divide_up<std::size_t>(now, 512) * fat::sector_bytes);
    fill(sectors.subspan(now), 0);
    if (Try<void> done = content_(file, offset, sectors.first(now)); !done) {
      return done;
    }
    if (Try<void> done = write_or_zero(sink_, lba, sectors); !done) {
      return done;
    }
    offset += now;
    lba += static_cast<std::uint32_t>(sectors.size() / fat::sector_bytes);
  }
  return lba == end ? Try<void>{} : sink_.zero(lba, end - lba);
}

Try<void> VolumeWriter::write() {
  if (Try<void> done = sink_.begin(shape_.image_sectors); !done) {
    return done;
  }
  if (Try<void> done = write_reserved(); !done) {
    return done;
  }
  for (std::uint32_t which = 0; which < 2; ++which) {
    if (Try<void> done = write_fat(shape_.fat_lba(which)); !done) {
      return done;
    }
  }
  if (Try<void> done = write_folders(); !done) {
    return done;
  }
  for (const PlannedFile& file : plan_.files) {
    if (Try<void> done = write_file(file); !done) {
      return done;
    }
  }
  return {};
}

} // namespace

Try<void> write_volume(const VolumePlan& plan, const ContentSource& content, SectorSink& sink) {
  return VolumeWriter(plan, content, sink).write();
}

} // namespace cardseal::fat32
