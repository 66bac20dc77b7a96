#include "fat32/plan.h"

#include <algorithm>
#include <bit>

#include "base/checked.h"
#include "fat32/tree.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
constexpr std::uint32_t fat_count = 2;

std::uint32_t partition_lba_of(const VolumeOptions& options) {
  return options.partitioned ? fat::mbr::partition_lba : 0;
}

constexpr std::uint64_t align_up(std::uint64_t value, std::uint64_t step) {
  return (value + step - 1) / step * step;
}

// The first sector of the data area of a volume of this many sectors.
std::uint64_t data_lba_for(std::uint64_t total, const VolumeOptions& options) {
  const std::uint64_t covered = 128ULL * options.sectors_per_cluster + 1; // as fat_sectors_for
  const std::uint64_t fat_sectors =
      divide_up<std::uint64_t>(total - fat::boot::usual_reserved_sectors, covered);
  return align_up(partition_lba_of(options) + fat::boot::usual_reserved_sectors +
                      fat_count * fat_sectors,
                  options.data_alignment_sectors);
}

std::string sectors_text(std::uint64_t sectors) {
  return std::to_string(sectors) + " sectors (" + std::to_string(sectors * fat::sector_bytes) +
         " bytes)";
}

std::string cluster_text(std::uint32_t sectors_per_cluster) {
  return std::to_string(sectors_per_cluster * fat::sector_bytes) + " bytes (" +
         std::to_string(sectors_per_cluster) + " sectors)";
}

std::uint64_t smallest_legal(VolumeOptions options, std::uint32_t sectors_per_cluster) {
  options.sectors_per_cluster = sectors_per_cluster;
  return smallest_sectors(fat::min_clusters, options);
}

// "clusters of at most N bytes" for an image of this size, the largest legal ones.
std::string largest_cluster_hint(std::uint32_t image_sectors, const VolumeOptions& options) {
  for (std::uint32_t spc = fat::max_sectors_per_cluster; spc != 0; spc /= 2) {
    const std::uint64_t needed = smallest_legal(options, spc);
    if (needed <= image_sectors) {
      return "use clusters of at most " + cluster_text(spc) + ", or an image that is larger";
    }
  }
  return "no cluster size is legal here: the smallest image is " +
         sectors_text(smallest_legal(options, 1)) + " with clusters of " + cluster_text(1);
}

std::optional<Error> cluster_size_fault(const VolumeOptions& options) {
  const std::uint32_t spc = options.sectors_per_cluster;
  if (std::has_single_bit(spc) && spc <= fat::max_sectors_per_cluster) {
    return std::nullopt;
  }
  const std::string expected = "1, 2, 4, 8, 16 or 32 sectors";
  const std::string found = std::to_string(spc) + " sectors";
  if (spc == 64 || spc == 128) {
    return plan_error(
        "fat32-cluster-size", "clusters are too large for any card of 2 GiB", "", found, expected,
        "FAT32 needs 65541 clusters, " + sectors_text(smallest_legal(options, spc)) +
            " here; use clusters of at most " + cluster_text(fat::max_sectors_per_cluster));
  }
  return plan_error("fat32-cluster-size", "cluster size is not legal", "", found, expected,
                    "use one of these");
}

std::optional<Error> size_option_fault(const VolumeOptions& options) {
  if (options.limit_sectors > fat::hard_max_sectors) {
    return plan_error(
        "fat32-size", "limit is more than every \"2 GB\" card has", "",
        sectors_text(options.limit_sectors), "at most " + sectors_text(fat::hard_max_sectors),
        "the smallest real one seen has " + std::to_string(fat::max_sectors) + " sectors");
  }
  if (options.image_sectors > options.limit_sectors) {
    return plan_error("fat32-size", "image is larger than the card may be", "",
                      sectors_text(options.image_sectors),
                      "at most " + sectors_text(options.limit_sectors),
                      "make the image smaller or raise the station's limit");
  }
  return std::nullopt;
}

std::optional<Error> option_fault(const VolumeOptions& options) {
  if (auto fault = size_option_fault(options)) {
    return fault;
  }
  if (!std::has_single_bit(options.data_alignment_sectors) ||
      options.data_alignment_sectors > 32768) {
    return plan_error("fat32-alignment", "data alignment is not legal", "",
                      std::to_string(options.data_alignment_sectors) + " sectors",
                      "a power of two, 1 to 32768", "4 MiB is 8192 sectors");
  }
  if (auto fault = cluster_size_fault(options)) {
    return fault;
  }
  const fat::Geometry geometry = options.geometry;
  if (geometry.heads < 1 || geometry.heads > 255 || geometry.sectors_per_track < 1 ||
      geometry.sectors_per_track > 63) {
    return plan_error("fat32-geometry", "geometry is not legal", "",
                      std::to_string(geometry.heads) + " heads, " +
                          std::to_string(geometry.sectors_per_track) + " sectors a track",
                      "1 to 255 heads, 1 to 63 sectors", "the usual ones are 255 and 63");
  }
  if (options.partitioned && options.partition_type != fat::mbr::type_fat32_chs &&
      options.partition_type != fat::mbr::type_fat32_lba) {
    return plan_error("fat32-partition-type", "partition type is not FAT32", "",
                      std::to_string(options.partition_type), "11 (0x0B) or 12 (0x0C)",
                      "0x0C unless the station insists on 0x0B");
  }
  return std::nullopt;
}

std::optional<Error> text_option_fault(const VolumeOptions& options) {
  if (!label_from(options.label)) {
    return plan_error("fat32-label", "volume label is not legal", "", in_quotes(options.label),
                      "1 to 11 of A-Z 0-9 !#$%&'()-@^_`{}~ or spaces inside",
                      "a label of upper-case letters and digits");
  }
  fat::Stamp stamp;
  if (!fat::pack_stamp(options.time, stamp)) {
    return plan_error("fat32-time", "time can't be kept on a FAT volume", "",
                      "year " + std::to_string(options.time.year), "a real date, 1980 to 2107",
                      "give the time of the card's content");
  }
  return std::nullopt;
}

// Clusters of folders and files at the plan's cluster size; folders keep room for an end entry.
std::uint64_t clusters_needed(VolumePlan& plan) {
  const std::uint64_t bytes = std::uint64_t{plan.options.sectors_per_cluster} * fat::sector_bytes;
  std::uint64_t sum = 0;
  for (std::uint32_t i = 0; i < plan.folders.size(); ++i) {
    const std::uint64_t used = (std::uint64_t{entries_of(plan, i)} + 1) * fat::entry::bytes;
    plan.folders[i].cluster_count = static_cast<std::uint32_t>(divide_up(used, bytes));
    sum += plan.folders[i].cluster_count;
  }
  for (PlannedFile& file : plan.files) {
    file.cluster_count = static_cast<std::uint32_t>(divide_up(file.size, bytes));
    sum += file.cluster_count;
  }
  return sum;
}

// What would hold the tree: a larger image with this cluster size, else another cluster size.
std::string fitting_hint(VolumePlan plan, std::uint64_t needed) {
  const std::uint64_t smallest = smallest_sectors(needed, plan.options);
  const std::uint64_t limit = plan.options.limit_sectors;
  if (smallest <= limit) {
    return "an image of " + sectors_text(smallest) + " would hold it";
  }
  for (std::uint32_t spc = fat::max_sectors_per_cluster; spc != 0; spc /= 2) {
    plan.options.sectors_per_cluster = spc;
    const std::uint64_t clusters =
        std::max<std::uint64_t>(clusters_needed(plan), fat::min_clusters);
    const std::uint64_t sectors = smallest_sectors(clusters, plan.options);
    if (sectors <= limit) {
      return "clusters of " + cluster_text(spc) + " and an image of " + sectors_text(sectors) +
             " would hold it";
    }
  }
  return "take files away or spread them over several cards; no card of " + sectors_text(limit) +
         " holds it";
}

Error full(const VolumePlan& plan, std::uint64_t needed, std::uint64_t available) {
  const std::uint64_t bytes = std::uint64_t{plan.options.sectors_per_cluster} * fat::sector_bytes;
  return plan_error("fat32-full", "files do not fit on the volume", "",
                    std::to_string(needed) + " clusters of " + std::to_string(bytes) + " bytes",
                    "at most " + std::to_string(available) + " clusters",
                    fitting_hint(plan, needed));
}

Try<VolumeShape> choose_shape(const VolumePlan& plan, std::uint64_t needed) {
  const VolumeOptions& options = plan.options;
  std::uint32_t image_sectors = options.image_sectors;
  if (image_sectors == smallest_image) {
    const std::uint64_t smallest =
        smallest_sectors(std::max<std::uint64_t>(needed, fat::min_clusters), options);
    image_sectors =
        static_cast<std::uint32_t>(std::min<std::uint64_t>(smallest, options.limit_sectors));
  }
  const auto shape = shape_of(image_sectors, options);
  const std::uint32_t clusters = shape ? shape->cluster_count : 0;
  if (clusters < fat::min_clusters) {
    return Unexpected(plan_error("fat32-few-clusters", "volume has too few clusters for FAT32", "",
                                 std::to_string(clusters) + " clusters of " +
                                     cluster_text(options.sectors_per_cluster) + " in " +
                                     sectors_text(image_sectors),
                                 "at least " + std::to_string(fat::min_clusters),
                                 largest_cluster_hint(image_sectors, options)));
  }
  if (needed > clusters) {
    return Unexpected(full(plan, needed, clusters));
  }
  return *shape;
}

void allocate(VolumePlan& plan) {
  std::uint32_t next = fat::first_cluster;
  for (PlannedFolder& folder : plan.folders) {
    folder.first_cluster = next;
    next += folder.cluster_count;
  }
  for (PlannedFile& file : plan.files) {
    if (file.cluster_count == 0) {
      continue;
    }
    file.first_cluster = next;
    file.extent.first_lba = plan.shape.lba_of(next);
    file.extent.sector_count =
        static_cast<std::uint32_t>(divide_up<std::uint64_t>(file.size, fat::sector_bytes));
    next += file.cluster_count;
  }
  plan.used_clusters = next - fat::first_cluster;
}

} // namespace

const PlannedFile* VolumePlan::find(std::string_view path) const {
  for (const PlannedFile& file : files) {
    if (file.path == path || file.short_path == path) {
      return &file;
    }
  }
  return nullptr;
}

std::optional<VolumeShape> shape_of(std::uint32_t image_sectors, const VolumeOptions& options) {
  VolumeShape shape;
  shape.image_sectors = image_sectors;
  shape.partition_lba = partition_lba_of(options);
  if (image_sectors <= shape.partition_lba + fat::boot::usual_reserved_sectors) {
    return std::nullopt;
  }
  shape.total_sectors = image_sectors - shape.partition_lba;
  shape.sectors_per_cluster = options.sectors_per_cluster;
  shape.fat_sectors = fat::fat_sectors_for(shape.total_sectors, fat::boot::usual_reserved_sectors,
                                           shape.sectors_per_cluster, fat_count);
  const std::uint64_t data_lba = data_lba_for(shape.total_sectors, options);
  if (data_lba + shape.sectors_per_cluster > image_sectors) {
    return std::nullopt;
  }
  shape.reserved_sectors =
      static_cast<std::uint32_t>(data_lba) - shape.partition_lba - fat_count * shape.fat_sectors;
  shape.cluster_count =
      (image_sectors - static_cast<std::uint32_t>(data_lba)) / shape.sectors_per_cluster;
  return shape;
}

std::uint64_t smallest_sectors(std::uint64_t clusters, const VolumeOptions& options) {
  const std::uint64_t first = partition_lba_of(options);
  const std::uint64_t step = options.data_alignment_sectors;
  const std::uint64_t data_sectors = clusters * options.sectors_per_cluster;
  // The FATs grow with the volume that they push back: from the least, until nothing moves.
  std::uint64_t data_lba = align_up(first + fat::boot::usual_reserved_sectors, step);
  for (std::uint64_t last = 0; last != data_lba;) {
    last = data_lba;
    data_lba = data_lba_for(last + data_sectors - first, options);
  }
  return data_lba + data_sectors;
}

Try<VolumePlan> plan_volume(const VolumeOptions& options, const std::vector<Node>& root) {
  auto fault = option_fault(options);
  if (!fault) {
    fault = text_option_fault(options);
  }
  if (fault) {
    return Unexpected(std::move(*fault));
  }
  VolumePlan plan;
  plan.options = options;
  plan.label = *label_from(options.label);
  if (Try<void> named = name_tree(root, plan); !named) {
    return Unexpected(std::move(named.error()));
  }
  const std::uint64_t needed = clusters_needed(plan);
  Try<VolumeShape> shape = choose_shape(plan, needed);
  if (!shape) {
    return Unexpected(std::move(shape.error()));
  }
  plan.shape = *shape;
  allocate(plan);
  return plan;
}

} // namespace cardseal::fat32
