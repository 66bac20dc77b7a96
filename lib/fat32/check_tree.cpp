#include <array>
#include <deque>

#include "base/checked.h"
#include "fat32/check_chain.h"
#include "fat32/check_folder.h"
#include "fat32/tree.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;

constexpr std::size_t max_entries = 262'144;
constexpr std::size_t max_all_paths_bytes = std::size_t{32} << 20;
constexpr std::uint32_t max_depth_read = 64;
constexpr std::uint64_t max_folder_bytes = std::uint64_t{fat::max_folder_entries} * 32;

class TreeReader {
public:
  TreeReader(Check& check, const std::vector<std::uint32_t>& fat)
      : check_(check), shape_(*check.report.shape), chains_(check, fat) {}

  Try<void> read();

private:
  Try<void> read_folder(const FolderToRead& folder);
  Try<void> read_sectors(const Chain& chain, FolderReader& reader);
  void take_found(FoundEntry& found, const FolderToRead& folder);
  void check_file(FoundEntry& found);
  bool has_room(const FoundEntry& found, const FolderToRead& folder);

  Check& check_;
  const FoundShape& shape_;
  Chains chains_;
  std::deque<FolderToRead> waiting_;
  std::size_t path_bytes_ = 0;
  bool full_ = false;
};

Try<void> TreeReader::read_sectors(const Chain& chain, FolderReader& reader) {
  std::array<std::uint8_t, fat::sector_bytes> sector{};
  for (const Extent& extent : chain.extents) {
    for (std::uint32_t i = 0; i < extent.sector_count; ++i) {
      const std::uint32_t lba = extent.first_lba + i;
      if (!check_.holds(lba, 1)) {
        return {}; // told already: the volume is larger than its place
      }
      if (Try<void> read = check_.source.read(lba, sector); !read) {
        return read;
      }
      for (std::size_t at = 0; at < sector.size(); at += fat::entry::bytes) {
        reader.take({lba, at}, ByteView(sector).subspan(at, fat::entry::bytes));
      }
    }
  }
  return {};
}

// Memory stays bounded whatever the card says.
bool TreeReader::has_room(const FoundEntry& found, const FolderToRead& folder) {
  path_bytes_ += folder.path.size() + 1 + found.entry.path.size();
  if (check_.report.entries.size() < max_entries && path_bytes_ <= max_all_paths_bytes) {
    return true;
  }
  if (!full_) {
    full_ = true;
    check_.add(rules::too_many, found.place,
               "more than " + std::to_string(max_entries) + " names or 32 MiB of paths");
  }
  return false;
}

void TreeReader::check_file(FoundEntry& found) {
  Entry& entry = found.entry;
  const std::uint64_t needed = divide_up<std::uint64_t>(entry.size, shape_.cluster_bytes());
  if (needed == 0 && entry.first_cluster == 0) {
    return;
  }
  const auto add = [&](const Rule& rule, const std::string& clusters) {
    check_.add(rule, found.place,
               "file " + in_quotes(entry.path) + " of " + std::to_string(entry.size) +
                   " bytes has " + clusters + " clusters, expected " + std::to_string(needed));
  };
  if (entry.first_cluster == 0) {
    add(rules::chain_short, "0");
    return;
  }
  Chain chain = chains_.follow(entry.first_cluster, entry.path, found.place);
  if (chain.whole && chain.cluster_count != needed) {
    add(chain.cluster_count < needed ? rules::chain_short : rules::chain_long,
        std::to_string(chain.cluster_count));
  }
  entry.extents = std::move(chain.extents);
}

void TreeReader::take_found(FoundEntry& found, const FolderToRead& folder) {
  if (!has_room(found, folder)) {
    return;
  }
  found.entry.path = below(folder.path, found.entry.path);
  if (!found.entry.folder) {
    check_file(found);
  } else if (folder.depth == max_depth_read || found.entry.path.size() > max_path_bytes) {
    check_.add(rules::too_deep, found.place,
               "folder " + in_quotes(found.entry.path) + " lies " +
                   std::to_string(folder.depth + 1) + " deep, at most " +
                   std::to_string(max_depth_read) + " and " + std::to_string(max_path_bytes) +
                   " bytes of path are read");
  } else {
    waiting_.push_back({found.entry.path, found.entry.first_cluster,
                        folder.depth == 0 ? 0 : folder.first_cluster, folder.depth + 1});
  }
  check_.report.entries.push_back(std::move(found.entry));
}

Try<void> TreeReader::read_folder(const FolderToRead& folder) {
  const std::uint32_t lba = shape_.partition_lba;
  const Chain chain =
      chains_.follow(folder.first_cluster, folder.path, {lba, fat::boot::root_cluster});
  const std::uint64_t bytes = std::uint64_t{chain.cluster_count} * shape_.cluster_bytes();
  if (bytes > max_folder_bytes) {
    check_.add(rules::too_many, {shape_.lba_of(folder.first_cluster), 0},
               "folder " + in_quotes(folder.path) + " has " + std::to_string(bytes) +
                   " bytes, at most " + std::to_string(max_folder_bytes));
    return {};
  }
  FolderReader reader(check_, folder);
  if (Try<void> done = read_sectors(chain, reader); !done) {
    return done;
  }
  reader.finish();
  for (FoundEntry& found : reader.found()) {
    take_found(found, folder);
  }
  return {};
}

Try<void> TreeReader::read() {
  waiting_.push_back({"", shape_.root_cluster, 0, 0});
  while (!waiting_.empty()) {
    const FolderToRead folder = std::move(waiting_.front());
    waiting_.pop_front();
    if (Try<void> done = read_folder(folder); !done) {
      return done;
    }
  }
  chains_.report_rest();
  return {};
}

} // namespace

Try<void> check_tree(Check& check, const std::vector<std::uint32_t>& fat) {
  return TreeReader(check, fat).read();
}

} // namespace cardseal::fat32
