// Writes a FAT32 image of a folder, by the code that card make uses. Prints the image's sectors.
//   card IMAGE FOLDER SECTORS CLUSTER-SECTORS bare|mbr ALIGNMENT     SECTORS 0: the smallest that
//   is legal
// With FOLDER `-`: one file LAST.BIN of zeros that fills the volume to its last cluster.
// Exit 1 and the error where the writer refuses.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <map>

#include "fat32/writer.h"
#include "io/file.h"

using namespace cardseal;
namespace fs = std::filesystem;

namespace {

std::map<std::string, fs::path> sources; // by path on the volume

std::vector<fat32::Node> read_folder(const fs::path& folder, const std::string& above) {
  std::vector<fs::path> entries;
  for (const auto& entry : fs::directory_iterator(folder)) {
    entries.push_back(entry.path());
  }
  std::sort(entries.begin(), entries.end());
  std::vector<fat32::Node> nodes;
  for (const fs::path& path : entries) {
    fat32::Node node;
    node.long_name = path.filename().string();
    node.folder = fs::is_directory(path);
    const std::string here = above + node.long_name;
    if (node.folder) {
      node.children = read_folder(path, here + "/");
    } else {
      node.size = fs::file_size(path);
      sources[here] = path;
    }
    nodes.push_back(std::move(node));
  }
  return nodes;
}

Try<void> content(const fat32::PlannedFile& file, std::uint64_t offset, ByteSpan out) {
  const auto source = sources.find(file.path);
  if (source == sources.end()) {
    std::fill(out.begin(), out.end(), std::uint8_t{0});
    return {};
  }
  std::ifstream in(source->second, std::ios::binary);
  in.seekg(static_cast<std::streamoff>(offset));
  in.read(reinterpret_cast<char*>(out.data()), static_cast<std::streamsize>(out.size()));
  return {};
}

int failed(const Error& error) {
  std::fprintf(stderr, "%s\n", describe(error).c_str());
  return 1;
}

Try<fat32::VolumePlan> plan_full(const fat32::VolumeOptions& options) {
  Try<fat32::VolumePlan> empty = fat32::plan_volume(options, {});
  if (!empty) {
    return empty;
  }
  fat32::VolumeOptions same = options;
  same.image_sectors = empty->shape.image_sectors;
  fat32::Node last;
  last.short_name = "LAST.BIN";
  last.size = std::uint64_t{empty->free_clusters()} * empty->shape.cluster_bytes();
  return fat32::plan_volume(same, {last});
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 7) {
    return 64;
  }
  fat32::VolumeOptions options;
  options.image_sectors = static_cast<std::uint32_t>(std::atoll(argv[3]));
  options.limit_sectors = 3'906'250; // what any card may have
  options.sectors_per_cluster = static_cast<std::uint32_t>(std::atoi(argv[4]));
  options.partitioned = std::strcmp(argv[5], "mbr") == 0;
  options.data_alignment_sectors = static_cast<std::uint32_t>(std::atoi(argv[6]));
  options.label = "TARN ALDER";
  options.volume_serial = 0x1234ABCD;
  options.time = {2026, 3, 2, 9, 0, 0};
  const bool full = std::strcmp(argv[2], "-") == 0;
  Try<fat32::VolumePlan> plan =
      full ? plan_full(options) : fat32::plan_volume(options, read_folder(argv[2], ""));
  if (!plan) {
    return failed(plan.error());
  }
  Try<io::NewFile> file = io::NewFile::create(io::real_system(), argv[1], io::IfExists::replace);
  if (!file) {
    return failed(file.error());
  }
  fat32::NewFileSink sink(*file);
  if (Try<void> written = fat32::write_volume(*plan, content, sink); !written) {
    return failed(written.error());
  }
  if (Try<void> kept = file->commit(); !kept) {
    return failed(kept.error());
  }
  std::printf("%u\n", plan->shape.image_sectors);
  return 0;
}
