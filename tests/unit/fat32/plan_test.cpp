#include "fat32/plan.h"

#include <set>

#include "support/catch.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
namespace fat = cardseal::format::fat;

namespace {

VolumeOptions bare_options(std::uint32_t sectors_per_cluster) {
  VolumeOptions options = sample_options();
  options.partitioned = false;
  options.data_alignment_sectors = 1;
  options.sectors_per_cluster = sectors_per_cluster;
  return options;
}

Error refusal(const VolumeOptions& options, const std::vector<Node>& tree) {
  Try<VolumePlan> plan = plan_volume(options, tree);
  REQUIRE_FALSE(plan.has_value());
  return plan.error();
}

std::string code_for_names(const std::vector<Node>& tree) {
  return refusal(sample_options(), tree).code;
}

} // namespace

// Smallest FAT32 volumes with 32 reserved sectors and two FATs, by the formula of the Microsoft FAT
// Specification (2005), section 3.4, worked out apart from this code.
TEST_CASE("the smallest volume of each cluster size is the one that the specification gives") {
  const std::pair<std::uint32_t, std::uint32_t> smallest[] = {
      {1, 66607}, {2, 132144}, {4, 263224}, {8, 525386}, {16, 1049714}, {32, 2098370}};
  for (const auto& [spc, sectors] : smallest) {
    INFO(spc);
    VolumeOptions options = bare_options(spc);
    const Try<VolumePlan> plan = plan_volume(options, {});
    REQUIRE(plan.has_value());
    CHECK(plan->shape.image_sectors == sectors);
    CHECK(plan->shape.cluster_count >= fat::min_clusters);
    options.image_sectors = sectors - 1;
    CHECK(refusal(options, {}).code == "fat32-few-clusters");
  }
}

TEST_CASE("a volume with too few clusters is refused with the largest cluster size that fits") {
  VolumeOptions options = bare_options(16);
  options.image_sectors = 300'000;
  const Error error = refusal(options, {});
  CHECK(error.code == "fat32-few-clusters");
  CHECK_THAT(error.expected, ContainsSubstring("65541"));
  CHECK_THAT(error.hint, ContainsSubstring("2048 bytes (4 sectors)"));
  options.image_sectors = 60'000;
  CHECK_THAT(refusal(options, {}).hint, ContainsSubstring("66607 sectors"));
}

TEST_CASE("clusters of 32 KiB are refused with the size of card that they would need") {
  const Error error = refusal(bare_options(64), {});
  CHECK(error.code == "fat32-cluster-size");
  CHECK_THAT(error.hint, ContainsSubstring("4195682 sectors"));
  for (const std::uint32_t odd : {0U, 3U, 33U, 256U}) {
    CHECK(refusal(bare_options(odd), {}).code == "fat32-cluster-size");
  }
}

// Invariant: a FAT holds an entry for every cluster and the two before them.
TEST_CASE("no remainder of sectors leaves a FAT too small or a cluster past the end") {
  for (const std::uint32_t spc : {1U, 2U, 4U, 8U, 16U, 32U}) {
    for (const std::uint32_t alignment : {1U, 8192U}) {
      VolumeOptions options = bare_options(spc);
      options.data_alignment_sectors = alignment;
      options.partitioned = alignment != 1;
      const auto first = static_cast<std::uint32_t>(smallest_sectors(fat::min_clusters, options));
      const std::uint32_t period = 128 * spc + 1;
      for (std::uint32_t sectors = first; sectors <= first + 2 * period; ++sectors) {
        const auto shape = shape_of(sectors, options);
        const bool covered =
            shape->fat_sectors * std::uint64_t{128} >= shape->cluster_count + std::uint64_t{2};
        const bool inside = shape->data_lba() + shape->cluster_count * spc <= sectors &&
                            shape->data_lba() + (shape->cluster_count + 1) * spc > sectors;
        if (!covered || !inside || shape->data_lba() % alignment != 0 ||
            shape->reserved_sectors < 32 || shape->reserved_sectors > 65535) {
          FAIL(sectors << " sectors of " << spc << " a cluster, alignment " << alignment);
        }
      }
    }
  }
}

TEST_CASE("the smallest image is the first that has the clusters, whatever the alignment") {
  for (const std::uint32_t spc : {1U, 4U, 32U}) {
    for (const std::uint32_t alignment : {1U, 64U, 8192U}) {
      VolumeOptions options = bare_options(spc);
      options.data_alignment_sectors = alignment;
      for (const std::uint32_t clusters : {65541U, 65664U, 70001U}) {
        const auto sectors = static_cast<std::uint32_t>(smallest_sectors(clusters, options));
        CHECK(shape_of(sectors, options)->cluster_count >= clusters);
        for (std::uint32_t less = 1; less < 40'000 && less < sectors; less += 7) {
          const auto shape = shape_of(sectors - less, options);
          if (shape && shape->cluster_count >= clusters) {
            FAIL(sectors - less << " sectors have " << shape->cluster_count << " clusters");
          }
        }
      }
    }
  }
}

TEST_CASE("every file has its sectors before its content is known, one after another") {
  for (const std::uint32_t spc : {1U, 8U}) {
    VolumeOptions options = sample_options();
    options.sectors_per_cluster = spc;
    const Try<VolumePlan> plan = plan_volume(options, sample_tree());
    REQUIRE(plan.has_value());
    const VolumeShape& shape = plan->shape;
    CHECK(shape.partition_lba == 8192);
    CHECK(shape.data_lba() % 8192 == 0);
    std::uint32_t next = plan->folders.front().first_cluster;
    CHECK(next == 2);
    for (const PlannedFolder& each : plan->folders) {
      CHECK(each.first_cluster == next);
      next += each.cluster_count;
    }
    for (const PlannedFile& each : plan->files) {
      INFO(each.path);
      if (each.size == 0) {
        CHECK(each.first_cluster == 0);
        CHECK(each.extent == Extent{});
        continue;
      }
      CHECK(each.first_cluster == next);
      CHECK(each.extent.first_lba == shape.data_lba() + (next - 2) * spc);
      CHECK(each.extent.sector_count == (each.size + 511) / 512);
      CHECK(each.cluster_count == (each.extent.sector_count + spc - 1) / spc);
      next += each.cluster_count;
    }
    CHECK(plan->free_clusters() == shape.cluster_count - (next - 2));
    REQUIRE(plan->find("Documents for people/readme.TXT") != nullptr);
    CHECK(plan->find("DOCS/README.TXT") == plan->find("Documents for people/readme.TXT"));
    CHECK(plan->find("RUN.LOG")->extent.sector_count == 128);
    CHECK(plan->find("NO.SUCH") == nullptr);
  }
}

TEST_CASE("aliases depend on nothing but the names and their order, and dodge given names") {
  const std::vector<Node> tree = {
      file("", "Frost report A.pdf", 1), file("", "Frost report B.pdf", 1),
      file("FROSTR~2.PDF", "", 1),       file("", "Frost report C.pdf", 1),
      file("", "notes.txt", 1),          file("", ".profile", 1),
      file("", "a+b.tar.gz", 1)};
  const Try<VolumePlan> plan = plan_volume(sample_options(), tree);
  REQUIRE(plan.has_value());
  std::vector<std::string> names;
  for (const PlannedFile& each : plan->files) {
    names.push_back(each.short_path);
  }
  CHECK(names == std::vector<std::string>{"FROSTR~1.PDF", "FROSTR~3.PDF", "FROSTR~2.PDF",
                                          "FROSTR~4.PDF", "NOTES.TXT", "PROFIL~1", "A_BTAR~1.GZ"});
}

TEST_CASE("a thousand names that begin alike get a thousand aliases") {
  std::vector<Node> tree;
  for (std::size_t i = 0; i < 1200; ++i) {
    tree.push_back(file("", numbered("frost report ", i) + ".txt", 0));
  }
  const Try<VolumePlan> plan = plan_volume(sample_options(), tree);
  REQUIRE(plan.has_value());
  std::set<std::string> names;
  for (const PlannedFile& each : plan->files) {
    names.insert(each.short_path);
  }
  CHECK(names.size() == 1200);
  CHECK(names.count("FRO~1200.TXT") == 1);
}

TEST_CASE("names that are the same without their case are refused, long and short together") {
  CHECK(code_for_names({file("A.TXT", "", 1), file("A.TXT", "", 1)}) == "fat32-duplicate");
  CHECK(code_for_names({file("", "Notes.txt", 1), file("", "nOTES.TXT", 1)}) == "fat32-duplicate");
  CHECK(code_for_names({file("JOB.TXT", "", 1), file("X.TXT", "job.txt", 1)}) == "fat32-duplicate");
  CHECK(code_for_names({file("", "\u00E5ngstr\u00F6m", 1), file("", "\u00C5NGSTR\u00D6M", 1)}) ==
        "fat32-duplicate");
  CHECK(code_for_names({file("", "\u0416\u0437", 1), file("", "\u0436\u0417", 1)}) ==
        "fat32-duplicate");
  CHECK(code_for_names({file("", "\u013Aa", 1), file("", "\u0139A", 1)}) == "fat32-duplicate");
  CHECK(code_for_names({folder("A", "", {file("B", "", 1), file("B", "", 1)})}) ==
        "fat32-duplicate");
  VolumeOptions options = sample_options();
  options.label = "CARDTXT";
  CHECK(refusal(options, {file("", "cardtxt", 1)}).code == "fat32-duplicate");
  CHECK(plan_volume(sample_options(), {folder("A", "", {file("B", "", 1)}), file("B", "", 1)})
            .has_value());
}

TEST_CASE("names that some reader can't take are refused with the name") {
  for (const char* bad : {"a.txt", "TOOLONGNAME", "A.TEXT", "A B", "A.B.C", ".TXT", "A.", "A+B",
                          "NUL", "COM1.TXT", "\xC3\x85"}) {
    INFO(bad);
    const Error error = refusal(sample_options(), {file(bad, "", 1)});
    CHECK(error.code == "fat32-name");
    CHECK_THAT(describe(error), ContainsSubstring("rename"));
  }
  for (const std::string& bad :
       {std::string("a/b"), std::string("a\\b"), std::string("a:b"), std::string("a\x01"),
        std::string("ends."), std::string("ends "), std::string(" begins"), std::string("."),
        std::string(".."), std::string(256, 'x'), std::string("\xFF"), std::string("aux.txt"),
        std::string("a\u202Eb"), std::string("a\u200Bb"), std::string("Lpt9")}) {
    INFO(bad);
    CHECK(code_for_names({file("", bad, 1)}) == "fat32-name");
  }
  CHECK(code_for_names({file("", "", 1)}) == "fat32-name");
  Node odd = file("A", "", 1);
  odd.children.push_back(file("B", "", 1));
  CHECK(code_for_names({odd}) == "fat32-name");
  CHECK(plan_volume(sample_options(), {file("", "COM10 null.txt", 1)}).has_value());
}

TEST_CASE("folders nested too deep or too full are refused") {
  std::vector<Node> deep;
  for (std::size_t i = 0; i < 40; ++i) {
    deep = {folder("D", "", std::move(deep))};
  }
  CHECK(code_for_names(deep) == "fat32-depth");
  std::vector<Node> wide = {folder("", std::string(250, 'w'), {})};
  for (std::size_t i = 0; i < 5; ++i) {
    wide = {folder("", std::string(250, 'w'), std::move(wide))};
  }
  CHECK(code_for_names(wide) == "fat32-depth");
  std::vector<Node> many;
  for (std::size_t i = 0; i < 65'536; ++i) {
    many.push_back(file(numbered("F", i), "", 0));
  }
  CHECK(code_for_names(many) == "fat32-folder-full");
}

TEST_CASE("files that do not fit are refused with what would hold them") {
  VolumeOptions options = bare_options(1);
  options.image_sectors = 70'000;
  const Error full = refusal(options, {file("BIG.BIN", "", 40'000'000)});
  CHECK(full.code == "fat32-full");
  const std::string sectors =
      full.hint.substr(std::string("an image of ").size(), full.hint.find(" sectors") - 12);
  options.image_sectors = static_cast<std::uint32_t>(std::stoul(sectors));
  CHECK(plan_volume(options, {file("BIG.BIN", "", 40'000'000)}).has_value());
  --options.image_sectors;
  CHECK(refusal(options, {file("BIG.BIN", "", 40'000'000)}).code == "fat32-full");

  options = sample_options();
  options.sectors_per_cluster = 32;
  std::vector<Node> crumbs;
  for (std::size_t i = 0; i < 40'000; ++i) {
    crumbs.push_back(file(numbered("A", i), "", 1));
    crumbs.push_back(folder(numbered("B", i), "", {file("C", "", 1)}));
  }
  crumbs.resize(60'000);
  const Error wasteful = refusal(options, {folder("X", "", crumbs), folder("Y", "", crumbs)});
  CHECK(wasteful.code == "fat32-full");
  CHECK_THAT(wasteful.hint, ContainsSubstring("clusters of 8192 bytes"));

  CHECK_THAT(refusal(sample_options(), {file("HUGE.BIN", "", 4'000'000'000U)}).hint,
             ContainsSubstring("several cards"));
  CHECK(code_for_names({file("HUGE.BIN", "", 0x100000000ULL)}) == "fat32-file-size");
}

TEST_CASE("options outside their ranges are refused") {
  const auto code_with = [](auto change) {
    VolumeOptions options = sample_options();
    change(options);
    return refusal(options, {}).code;
  };
  using O = VolumeOptions;
  CHECK(code_with([](O& o) { o.limit_sectors = 3'906'251; }) == "fat32-size");
  CHECK(code_with([](O& o) { o.image_sectors = 3'842'049; }) == "fat32-size");
  CHECK(code_with([](O& o) { o.data_alignment_sectors = 0; }) == "fat32-alignment");
  CHECK(code_with([](O& o) { o.data_alignment_sectors = 65'536; }) == "fat32-alignment");
  CHECK(code_with([](O& o) { o.geometry.heads = 256; }) == "fat32-geometry");
  CHECK(code_with([](O& o) { o.geometry.sectors_per_track = 0; }) == "fat32-geometry");
  CHECK(code_with([](O& o) { o.partition_type = 0x07; }) == "fat32-partition-type");
  CHECK(code_with([](O& o) { o.label = ""; }) == "fat32-label");
  CHECK(code_with([](O& o) { o.label = "lower"; }) == "fat32-label");
  CHECK(code_with([](O& o) { o.label = "TWELVE CHARS"; }) == "fat32-label");
  CHECK(code_with([](O& o) { o.time.year = 1979; }) == "fat32-time");
  CHECK(code_with([](O& o) { o.time.year = 2108; }) == "fat32-time");
  CHECK(code_with([](O& o) { o.time = {2025, 2, 30, 0, 0, 0}; }) == "fat32-time");
}
