// Other people's programs judge what is written here, and write what is read here: fsck.fat and
// mkfs.fat (dosfstools), mtools, 7-Zip, sfdisk (util-linux), tsk_recover (Sleuth Kit), as packaged
// by Debian 12. A program that is missing is skipped, but not where CI=true.
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <sstream>

#include "fat32/reader.h"
#include "support/catch.h"
#include "support/outside.h"
#include "support/temp_folder.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
using namespace cardseal::test;
namespace fat = cardseal::format::fat;
namespace fs = std::filesystem;

namespace {

// Where Debian puts the tools, and one language and time for all of them.
Ran run_tool(const std::string& command) {
  return run("PATH=$PATH:/usr/sbin:/sbin LC_ALL=C.UTF-8 TZ=UTC; export PATH LC_ALL TZ; " + command);
}

std::string in_shell(const fs::path& path) {
  return shell(path.string());
}

VolumePlan write_image(const VolumeOptions& options, const std::vector<Node>& tree,
                       const fs::path& path) {
  Try<VolumePlan> plan = plan_volume(options, tree);
  REQUIRE(plan.has_value());
  Try<io::NewFile> file = io::NewFile::create(io::real_system(), path, io::IfExists::replace);
  REQUIRE(file.has_value());
  NewFileSink sink(*file);
  REQUIRE(write_volume(*plan, sample_content, sink).has_value());
  REQUIRE(file->commit().has_value());
  return std::move(*plan);
}

std::vector<std::uint8_t> bytes_in(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

void check_extracted(const VolumePlan& plan, const fs::path& folder, bool outside_bmp_kept = true) {
  std::size_t files = 0;
  for (const auto& each : fs::recursive_directory_iterator(folder)) {
    files += each.is_regular_file() ? 1 : 0;
  }
  CHECK(files == plan.files.size());
  for (const PlannedFile& planned : plan.files) {
    INFO(planned.path);
    std::string path = planned.path;
    const std::string apple = "\U0001F34E";
    if (const auto at = path.find(apple); at != std::string::npos && !outside_bmp_kept) {
      path.replace(at, apple.size(), "__");
    }
    REQUIRE(fs::is_regular_file(folder / path));
    CHECK((bytes_in(folder / path) == content_of(planned)));
  }
  for (const PlannedFolder& planned : plan.folders) {
    CHECK(fs::is_directory(folder / planned.path));
  }
}

// The lines of `fsck.fat -n -v` after its description of the boot sector; its exit code is 0 for
// some faults.
std::vector<std::string> fsck_says(const fs::path& image) {
  std::istringstream lines(run_tool("fsck.fat -n -v " + in_shell(image)).output);
  std::vector<std::string> said;
  bool described = false;
  for (std::string line; std::getline(lines, line);) {
    if (described) {
      said.push_back(line);
    }
    described = described || line.find("sectors total") != std::string::npos;
  }
  return said;
}

void check_fsck(const VolumePlan& plan, const fs::path& image) {
  const std::size_t nodes = plan.files.size() + plan.folders.size(); // the label counts as one
  const std::vector<std::string> expected = {
      "Checking for unused clusters.", "Checking free cluster summary.",
      image.string() + ": " + std::to_string(nodes) + " files, " +
          std::to_string(plan.used_clusters) + "/" + std::to_string(plan.shape.cluster_count) +
          " clusters"};
  CHECK(fsck_says(image) == expected);
}

struct Case {
  std::uint32_t sectors_per_cluster;
  bool largest;
};
constexpr Case cases[] = {{1, false}, {2, false}, {4, false}, {8, false}, {16, false}, {32, false},
                          {1, true},  {2, true},  {4, true},  {8, true},  {16, true},  {32, true}};

VolumeOptions options_for(const Case& each, bool partitioned) {
  VolumeOptions options = sample_options();
  options.sectors_per_cluster = each.sectors_per_cluster;
  options.image_sectors = each.largest ? fat::max_sectors : smallest_image;
  options.partitioned = partitioned;
  options.data_alignment_sectors = each.largest || partitioned ? 8192 : 1;
  return options;
}

} // namespace

TEST_CASE("fsck.fat says nothing but its summary about any bare volume") {
  if (!have("/usr/sbin/fsck.fat")) {
    return;
  }
  const TempFolder temp;
  for (const Case& each : cases) {
    INFO(each.sectors_per_cluster << " sectors a cluster, largest " << each.largest);
    const fs::path image = temp / "bare.img";
    const VolumePlan plan = write_image(options_for(each, false), sample_tree(), image);
    check_fsck(plan, image);
  }
}

TEST_CASE("fsck.fat has nothing to say about a full volume and one with a thousand names") {
  if (!have("/usr/sbin/fsck.fat")) {
    return;
  }
  const TempFolder temp;
  const fs::path image = temp / "bare.img";
  VolumeOptions options = options_for({1, false}, false);
  const Try<VolumePlan> empty = plan_volume(options, {});
  REQUIRE(empty.has_value());
  options.image_sectors = empty->shape.image_sectors;
  const std::uint64_t size = std::uint64_t{empty->free_clusters()} * 512;
  check_fsck(write_image(options, {file("FULL.BIN", "", size)}, image), image);
  std::vector<Node> names;
  for (std::size_t i = 0; i < 1000; ++i) {
    names.push_back(file("", numbered("frost report ", i) + ".txt", i));
  }
  options.image_sectors = smallest_image;
  check_fsck(write_image(options, {folder("", "many names", names)}, image), image);
}

TEST_CASE(
    "fsck.fat still speaks up about a spoiled volume") { // so that its silence means something
  if (!have("/usr/sbin/fsck.fat")) {
    return;
  }
  const TempFolder temp;
  const fs::path image = temp / "bare.img";
  const VolumePlan plan = write_image(options_for({8, false}, false), sample_tree(), image);
  std::fstream out(image, std::ios::binary | std::ios::in | std::ios::out);
  out.seekp(static_cast<std::streamoff>(plan.shape.fat_lba(1)) * 512 + 12);
  out.put('\x01');
  out.close();
  CHECK(fsck_says(image).size() > 3);
}

TEST_CASE("mtools and 7-Zip read every byte of bare and partitioned images") {
  const bool mtools = have("mcopy");
  const bool seven_zip = have("7zz");
  for (const Case& each : {Case{1, false}, Case{8, false}, Case{32, false}, Case{16, true}}) {
    for (const bool partitioned : {false, true}) {
      INFO(each.sectors_per_cluster << " sectors a cluster, partitioned " << partitioned);
      const TempFolder temp;
      const fs::path image = temp / "card.img";
      const VolumePlan plan = write_image(options_for(each, partitioned), sample_tree(), image);
      for (const char* out : {"mtools", "7zz"}) {
        fs::create_directory(temp / out);
      }
      if (mtools) {
        const Ran result =
            run_tool("mcopy -s -n -i " + in_shell(image) + (partitioned ? "@@4194304" : "") +
                     " '::/*' " + in_shell(temp / "mtools"));
        CHECK(result.output == "");
        check_extracted(plan, temp / "mtools", false); // it knows 16-bit characters only
      }
      if (seven_zip) {
        const Ran result = run_tool("7zz x -y " + in_shell(image) + " -o" + in_shell(temp / "7zz"));
        INFO(result.output);
        CHECK(result.exit_code == 0);
        CHECK(result.output.find("WARNING") == std::string::npos);
        check_extracted(plan, temp / "7zz");
      }
    }
  }
}

TEST_CASE("Sleuth Kit recovers every file") {
  if (!have("tsk_recover")) {
    return;
  }
  const TempFolder temp;
  const fs::path image = temp / "card.img";
  const VolumePlan plan = write_image(options_for({8, false}, true), sample_tree(), image);
  const Ran result =
      run_tool("tsk_recover -a -o 8192 " + in_shell(image) + " " + in_shell(temp / "tsk"));
  INFO(result.output);
  CHECK(result.exit_code == 0);
  for (const PlannedFile& planned : plan.files) {
    INFO(planned.path);
    if (planned.size == 0) {
      continue; // it leaves empty files out
    }
    // and cuts names that it writes to 247 bytes
    const std::size_t name_at = planned.path.rfind('/') + 1;
    const fs::path path = temp / ("tsk/" + planned.path.substr(0, name_at + 247));
    CHECK((bytes_in(path) == content_of(planned)));
  }
}

TEST_CASE("sfdisk finds the one partition where it was planned") {
  if (!have("/usr/sbin/sfdisk")) {
    return;
  }
  for (const std::uint8_t type : {fat::mbr::type_fat32_chs, fat::mbr::type_fat32_lba}) {
    const TempFolder temp;
    const fs::path image = temp / "card.img";
    VolumeOptions options = options_for({8, false}, true);
    options.partition_type = type;
    const VolumePlan plan = write_image(options, sample_tree(), image);
    const Ran dump = run_tool("sfdisk -d " + in_shell(image));
    INFO(dump.output);
    CHECK(dump.exit_code == 0);
    CHECK_THAT(dump.output, ContainsSubstring("label: dos\n"));
    CHECK_THAT(dump.output, ContainsSubstring("label-id: 0x1234abcd\n"));
    const std::string size = std::to_string(plan.shape.total_sectors);
    CHECK_THAT(dump.output,
               ContainsSubstring("start=        8192, size=" + std::string(12 - size.size(), ' ') +
                                 size + ", type=" + (type == 0x0B ? "b" : "c") + "\n"));
    CHECK(dump.output.find("start=") == dump.output.rfind("start="));
    const Ran verify = run_tool("sfdisk -V " + in_shell(image));
    INFO(verify.output);
    CHECK(verify.exit_code == 0);
  }
}

// What mkfs.fat formats and mtools fills is a volume by other hands.
TEST_CASE("a volume made by mkfs.fat and mtools is read byte for byte and checked clean") {
  if (!have("/usr/sbin/mkfs.fat") || !have("mcopy")) {
    return;
  }
  for (const char* cluster : {"1", "8"}) {
    INFO(cluster);
    const TempFolder temp;
    const fs::path image = temp / "foreign.img";
    const Ran made = run_tool("mkfs.fat -F 32 -s " + std::string(cluster) + " -n FOREIGN -C " +
                              in_shell(image) + " 300000");
    INFO(made.output);
    REQUIRE(made.exit_code == 0);
    fs::create_directories(temp / "in/Orchard north/rows");
    const std::vector<std::pair<std::string, std::size_t>> files = {
        {"plain.bin", 70'000},
        {"Orchard north/A longer name.txt", 5},
        {"Orchard north/EMPTY", 0},
        {"Orchard north/rows/\u00C5pple.dat", 4097}};
    for (const auto& [name, size] : files) {
      std::ofstream out(temp / ("in/" + name), std::ios::binary);
      for (std::size_t i = 0; i < size; ++i) {
        out.put(static_cast<char>(content_byte(static_cast<std::uint32_t>(size), i)));
      }
    }
    const Ran filled =
        run_tool("mcopy -s -i " + in_shell(image) + " " + in_shell(temp / "in") + "/* ::");
    INFO(filled.output);
    REQUIRE(filled.exit_code == 0);

    Try<io::ReadFile> opened = io::ReadFile::open(io::real_system(), image);
    REQUIRE(opened.has_value());
    FileSource source(*opened);
    Try<CheckReport> report = check_volume(source);
    REQUIRE(report.has_value());
    for (const Finding& finding : report->findings.kept()) {
      INFO(finding.text);
      CHECK(finding.rule->id == "nothing");
    }
    Try<Volume> volume = Volume::open(source);
    REQUIRE(volume.has_value());
    CHECK(volume->entries().size() == files.size() + 2);
    for (const auto& [name, size] : files) {
      INFO(name);
      const Entry* entry = volume->find(name);
      REQUIRE(entry != nullptr);
      Try<io::Bytes> bytes = volume->read_all(*entry, size);
      REQUIRE(bytes.has_value());
      CHECK(*bytes == bytes_in(temp / ("in/" + name)));
    }
  }
}

namespace {

// Names of any length and kind, folders in folders, sizes at and about the ends of clusters.
class RandomTree {
public:
  explicit RandomTree(std::uint32_t seed) : random_(seed) {}

  std::vector<Node> grow(unsigned deep) {
    std::vector<Node> nodes(1 + random_() % 12);
    for (Node& node : nodes) {
      const bool is_folder = deep > 0 && random_() % 4 == 0;
      node = is_folder ? folder("", name(), grow(deep - 1)) : file("", name(), size());
    }
    return nodes;
  }

private:
  // The number makes it the only one of its kind, whatever its case.
  std::string name() {
    constexpr const char* pieces[] = {"n", "Orchard", "row-", "\u00C5", "\u20AC", "x_y", ".", " "};
    std::string out = random_() % 3 == 0 ? "F" : "long Name ";
    for (auto more = random_() % 24; more > 0; --more) {
      out += pieces[random_() % std::size(pieces)];
    }
    return numbered(out, ++count_) + (random_() % 2 == 0 ? ".bin" : "");
  }
  std::uint64_t size() {
    constexpr std::uint64_t ends[] = {0, 1, 511, 512, 513, 4095, 4096, 4097, 16383, 16384};
    return random_() % 2 == 0 ? ends[random_() % std::size(ends)] : random_() % 60'000;
  }

  std::mt19937 random_;
  std::size_t count_ = 0;
};

} // namespace

TEST_CASE("mtools reads any random tree byte for byte, and fsck.fat has nothing to say") {
  if (!have("mcopy") || !have("/usr/sbin/fsck.fat")) {
    return;
  }
  for (std::uint32_t seed = 1; seed <= 6; ++seed) {
    INFO("seed " << seed);
    const TempFolder temp;
    const fs::path image = temp / "bare.img";
    RandomTree tree(seed);
    const VolumePlan plan =
        write_image(options_for({1U << seed % 6, false}, false), tree.grow(4), image);
    check_fsck(plan, image);
    fs::create_directories(temp / "out");
    const Ran ran =
        run_tool("mcopy -s -n -i " + in_shell(image) + " '::/*' " + in_shell(temp / "out"));
    CHECK(ran.output == "");
    check_extracted(plan, temp / "out");
  }
}
