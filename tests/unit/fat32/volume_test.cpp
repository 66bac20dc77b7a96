#include <algorithm>

#include "fat32/reader.h"
#include "support/catch.h"
#include "support/temp_folder.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
namespace fat = cardseal::format::fat;

namespace {

std::string faults_of(const Findings& findings) {
  std::string text;
  for (const Finding& finding : findings.kept()) {
    text += std::string(finding.rule->id) + " " + finding.place.item + ": " + finding.text + "\n";
  }
  return text;
}

// The checker has nothing to say, and the reader gives every planned byte back.
void check_round_trip(MadeVolume& made) {
  Try<CheckReport> report = check_volume(made.card);
  REQUIRE(report.has_value());
  CHECK(faults_of(report->findings) == "");
  Try<Volume> volume = Volume::open(made.card);
  REQUIRE(volume.has_value());
  CHECK(volume->entries().size() == made.plan.files.size() + made.plan.folders.size() - 1);
  for (const PlannedFile& planned : made.plan.files) {
    INFO(planned.path);
    const Entry* entry = volume->find(planned.path);
    REQUIRE(entry != nullptr);
    const std::string& short_path = planned.short_path;
    CHECK(entry->short_name == short_path.substr(short_path.rfind('/') + 1));
    CHECK(entry->size == planned.size);
    CHECK(entry->first_cluster == planned.first_cluster);
    CHECK(entry->extents.size() == (planned.size == 0 ? 0 : 1));
    Utc time = made.plan.options.time;
    time.second = static_cast<std::uint8_t>(time.second / 2 * 2);
    CHECK(entry->written == time);
    Try<io::Bytes> bytes = volume->read_all(*entry, planned.size);
    REQUIRE(bytes.has_value());
    CHECK((*bytes == content_of(planned)));
  }
}

// Every sector before the data area and every used cluster is written whatever stood there, and
// nothing of the junk is left in them.
void check_no_junk(MadeVolume& made) {
  const VolumeShape& shape = made.plan.shape;
  const auto is_junk = [&](std::uint32_t lba) {
    const Sector sector = sector_of(made.card, lba);
    return std::all_of(sector.begin(), sector.end(), [](auto byte) { return byte == junk; });
  };
  const std::uint32_t used_end =
      shape.data_lba() + made.plan.used_clusters * shape.sectors_per_cluster;
  for (std::uint32_t lba = 0; lba < used_end; ++lba) {
    if (is_junk(lba)) {
      FAIL("sector " << lba << " was not written");
    }
  }
  for (const PlannedFile& file : made.plan.files) {
    const std::uint32_t end =
        file.extent.first_lba + file.cluster_count * shape.sectors_per_cluster;
    for (std::uint32_t lba = file.extent.first_lba; lba < end; ++lba) {
      const Sector sector = sector_of(made.card, lba);
      const std::uint64_t from = std::uint64_t{lba - file.extent.first_lba} * 512;
      for (std::size_t i = 0; i < sector.size(); ++i) {
        if (from + i >= file.size && sector[i] != 0) {
          FAIL(file.path << " has " << int{sector[i]} << " after its end");
        }
      }
    }
  }
}

} // namespace

TEST_CASE("what is written over junk is read back byte for byte and checked clean") {
  for (const std::uint32_t spc : {1U, 2U, 4U, 8U, 16U, 32U}) {
    for (const bool partitioned : {true, false}) {
      INFO(spc << " sectors a cluster, partitioned " << partitioned);
      VolumeOptions options = sample_options();
      options.sectors_per_cluster = spc;
      options.partitioned = partitioned;
      MadeVolume made = make_volume(options, sample_tree());
      check_round_trip(made);
      check_no_junk(made);
    }
  }
}

TEST_CASE("the largest image works with every cluster size") {
  for (const std::uint32_t spc : {1U, 8U, 32U}) {
    INFO(spc);
    VolumeOptions options = sample_options();
    options.image_sectors = fat::max_sectors;
    options.sectors_per_cluster = spc;
    MadeVolume made = make_volume(options, sample_tree());
    check_round_trip(made);
    CHECK(made.plan.shape.image_sectors == 3'842'048);
  }
}

// abbrev/fatfs 10 and the like: off-by-one at the last cluster.
TEST_CASE("a file that ends in the last cluster is written and read") {
  VolumeOptions options = sample_options();
  options.partitioned = false;
  const Try<VolumePlan> empty = plan_volume(options, {});
  REQUIRE(empty.has_value());
  const std::uint64_t size = std::uint64_t{empty->free_clusters()} * 512 - 100;
  options.image_sectors = empty->shape.image_sectors;
  MadeVolume made = make_volume(options, {file("FULL.BIN", "", size)});
  CHECK(made.plan.free_clusters() == 0);
  CHECK(made.plan.files[0].extent.first_lba + made.plan.files[0].extent.sector_count ==
        made.plan.shape.image_sectors);
  check_round_trip(made);
  const Sector info = sector_of(made.card, 1);
  CHECK(load_le32(&info[fat::fsinfo::free_clusters]) == 0);
  CHECK(load_le32(&info[fat::fsinfo::next_free]) == made.plan.shape.cluster_count + 1);
}

// Microsoft FAT Specification (2005), sections 3, 4 and 5, field by field.
TEST_CASE("boot sectors, FSInfo and both FATs say what the specification asks for") {
  MadeVolume made = make_volume(sample_options(), sample_tree());
  const VolumeShape& shape = made.plan.shape;
  for (std::uint32_t i = 0; i < 3; ++i) {
    CHECK(sector_of(made.card, 8192 + i) == sector_of(made.card, 8192 + 6 + i));
    CHECK(load_le16(&sector_of(made.card, 8192 + i)[510]) == 0xAA55);
  }
  const Sector boot = sector_of(made.card, 8192);
  CHECK(load_le32(&boot[28]) == 8192);
  CHECK(load_le32(&boot[32]) == shape.image_sectors - 8192);
  CHECK(load_le16(&boot[17]) == 0);
  CHECK(load_le16(&boot[19]) == 0);
  CHECK(load_le16(&boot[22]) == 0);
  CHECK(load_le16(&boot[40]) == 0);
  CHECK(load_le16(&boot[42]) == 0);
  CHECK(text_of(ByteView(boot).subspan(71, 19)) == "TARN ALDER FAT32   ");
  const Sector info = sector_of(made.card, 8193);
  CHECK(load_le32(&info[488]) == made.plan.free_clusters());
  CHECK(load_le32(&info[492]) == made.plan.used_clusters + 2);
  const Sector root = sector_of(made.card, shape.data_lba());
  CHECK(text_of(ByteView(root).first(11)) == "TARN ALDER ");
  CHECK(root[11] == 0x08);

  std::uint32_t used = 0;
  for (std::uint32_t i = 0; i < shape.fat_sectors; ++i) {
    const Sector first = sector_of(made.card, shape.fat_lba(0) + i);
    REQUIRE(first == sector_of(made.card, shape.fat_lba(1) + i));
    for (std::uint32_t at = 0; at < 512; at += 4) {
      const std::uint32_t entry = load_le32(&first[at]);
      const std::uint32_t cluster = i * 128 + at / 4;
      if (cluster < 2) {
        CHECK(entry == (cluster == 0 ? 0x0FFFFFF8U : 0x0FFFFFFFU));
        continue;
      }
      used += entry != 0 ? 1 : 0;
      if ((entry >> 28) != 0 || (entry > shape.cluster_count + 1 && entry != 0x0FFFFFFF)) {
        FAIL("entry " << cluster << " is " << entry);
      }
    }
  }
  CHECK(used == made.plan.used_clusters);
}

TEST_CASE("a partition's table entry tells its place in sectors and in cylinders") {
  VolumeOptions options = sample_options();
  options.partition_type = fat::mbr::type_fat32_chs;
  options.image_sectors = fat::max_sectors;
  options.sectors_per_cluster = 8;
  const Try<VolumePlan> plan = plan_volume(options, {});
  REQUIRE(plan.has_value());
  const Sector mbr = mbr_of(*plan);
  CHECK(mbr[446] == 0);
  CHECK(mbr[450] == 0x0B);
  CHECK(load_le32(&mbr[454]) == 8192);
  CHECK(load_le32(&mbr[458]) == 3'842'048 - 8192);
  // sector = (cylinder * 255 + head) * 63 + sector number - 1
  CHECK(mbr[447] == 8192 / 63 % 255);
  CHECK(mbr[448] == 8192 % 63 + 1);
  CHECK(mbr[449] == 0);
  CHECK(mbr[451] == 3'842'047 / 63 % 255);
  CHECK((mbr[452] & 0x3F) == 3'842'047 % 63 + 1);
  CHECK(mbr[453] == 239);
  for (std::size_t at = 462; at < 510; ++at) {
    CHECK(mbr[at] == 0);
  }
}

TEST_CASE("the same plan and content give the same bytes in a file and over junk in memory") {
  VolumeOptions options = sample_options();
  options.sectors_per_cluster = 8;
  MadeVolume made = make_volume(options, sample_tree());
  const cardseal::test::TempFolder temp;
  const io::Path path = temp / "same-bytes.img";
  {
    Try<io::NewFile> created = io::NewFile::create(io::real_system(), path, io::IfExists::replace);
    REQUIRE(created.has_value());
    NewFileSink sink(*created);
    REQUIRE(write_volume(made.plan, sample_content, sink).has_value());
    REQUIRE(created->commit().has_value());
  }
  Try<io::ReadFile> opened = io::ReadFile::open(io::real_system(), path);
  REQUIRE(opened.has_value());
  FileSource source(*opened);
  CHECK(source.sector_count() == made.plan.shape.image_sectors);
  const std::uint32_t used_end =
      made.plan.shape.data_lba() + made.plan.used_clusters * options.sectors_per_cluster;
  for (std::uint32_t lba = 0; lba < used_end; ++lba) {
    Sector sector{};
    REQUIRE(source.read(lba, sector).has_value());
    if (sector != sector_of(made.card, lba)) {
      FAIL("sector " << lba << " differs");
    }
  }
  Try<CheckReport> report = check_volume(source);
  REQUIRE(report.has_value());
  CHECK(report->clean());
}

TEST_CASE("an image takes no more on disk than its content and 128 KiB") {
  for (const std::uint32_t spc : {1U, 8U, 32U}) {
    INFO(spc);
    VolumeOptions options = sample_options();
    options.sectors_per_cluster = spc;
    options.image_sectors = fat::max_sectors;
    std::vector<Node> tree = sample_tree();
    tree.push_back(file("PAYLOAD.CRP", "", 2'000'000));
    const Try<VolumePlan> plan = plan_volume(options, tree);
    REQUIRE(plan.has_value());
    const cardseal::test::TempFolder temp;
    const io::Path path = temp / "sparse.img";
    Try<io::NewFile> created = io::NewFile::create(io::real_system(), path, io::IfExists::replace);
    REQUIRE(created.has_value());
    NewFileSink sink(*created);
    REQUIRE(write_volume(*plan, sample_content, sink).has_value());
    REQUIRE(created->commit().has_value());
    const auto stat = io::real_system().stat(path);
    REQUIRE(stat.has_value());
    CHECK(stat->size == std::uint64_t{fat::max_sectors} * 512);
    std::uint64_t payload = 0;
    for (const PlannedFile& each : plan->files) {
      payload += each.size;
    }
    INFO(payload << " bytes of content, " << stat->allocated << " on disk");
    CHECK(stat->allocated <= payload + 128 * 1024);
  }
}

TEST_CASE("an error of the content or the sink ends the writing with that error") {
  const Try<VolumePlan> plan = plan_volume(sample_options(), sample_tree());
  REQUIRE(plan.has_value());
  MemoryCard card(plan->shape.image_sectors, 0);
  const ContentSource broken = [](const PlannedFile& planned, std::uint64_t,
                                  ByteSpan) -> Try<void> {
    Error error{};
    error.code = "broken-" + planned.path;
    return Unexpected(error);
  };
  Try<void> failed = write_volume(*plan, broken, card);
  REQUIRE_FALSE(failed.has_value());
  CHECK(failed.error().code == "broken-FROST.CRP");
  MemoryCard small(plan->shape.image_sectors - 1, 0);
  Try<void> refused = write_volume(*plan, sample_content, small);
  REQUIRE_FALSE(refused.has_value());
  CHECK(refused.error().code == "card-end");
}

TEST_CASE("parts of a file are read at any offset, and nothing past its end") {
  MadeVolume made = make_volume(sample_options(), sample_tree());
  Try<Volume> volume = Volume::open(made.card);
  REQUIRE(volume.has_value());
  const Entry* entry = volume->find("last.bin");
  REQUIRE(entry != nullptr);
  const std::vector<std::uint8_t> whole = content_of(*made.plan.find("LAST.BIN"));
  for (const std::size_t offset : {0U, 1U, 511U, 512U, 513U, 39'999U, 40'000U}) {
    for (const std::size_t size : {0U, 1U, 511U, 512U, 1025U, 20'000U}) {
      std::vector<std::uint8_t> part(size);
      Try<void> read = volume->read(*entry, offset, part);
      if (offset + size <= whole.size()) {
        REQUIRE(read.has_value());
        CHECK(equal(part, ByteView(whole).subspan(offset, size)));
      } else {
        REQUIRE_FALSE(read.has_value());
        CHECK(read.error().code == "fat32-read");
      }
    }
  }
  CHECK(volume->read_all(*entry, 39'999).has_value() == false);
}
