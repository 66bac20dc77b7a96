// The page about the volume is held to the code: its numbers, its table and its bytes.
#include <string>

#include "fat32/reader.h"
#include "support/catch.h"
#include "support/markdown.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
using cardseal::test::Markdown;
using cardseal::test::TableRow;
namespace fat = cardseal::format::fat;

namespace {

Markdown page() {
  return Markdown("lib/format/SPEC-fat32.md");
}

VolumeOptions example_options() {
  VolumeOptions options;
  options.image_sectors = smallest_image;
  options.sectors_per_cluster = 1;
  options.label = "FROST NODE";
  options.volume_serial = 0x20250309;
  options.time = {2025, 3, 9, 14, 27, 30};
  return options;
}

std::vector<Node> example_tree() {
  return {file("FROST.CRP", "", 123'457),
          folder("DOCS", "Documents", {file("", "Set-up sheet.pdf", 40'000)})};
}

void check_sector(const Sector& sector, const std::vector<std::uint8_t>& shown) {
  CHECK(equal(ByteView(sector).first(shown.size()), shown));
  for (std::size_t at = shown.size(); at < 510; ++at) {
    CHECK(sector[at] == 0);
  }
  CHECK(sector[510] == 0x55);
  CHECK(sector[511] == 0xAA);
}

// A value of the table as bytes: a text, hex digits or a number of `width` bytes.
std::vector<std::uint8_t> bytes_of_cell(const std::string& cell, std::size_t width) {
  if (cell.front() == '"') {
    return {cell.begin() + 1, cell.end() - 1};
  }
  if (cell.front() == '`') {
    return cardseal::test::unhex(cardseal::test::plain(cell));
  }
  std::vector<std::uint8_t> bytes;
  for (std::uint64_t rest = std::stoull(cell); bytes.size() < width; rest >>= 8) {
    bytes.push_back(static_cast<std::uint8_t>(rest));
  }
  return bytes;
}

} // namespace

TEST_CASE("the page's boot sector, partition entry and root folder are what the writer makes") {
  MadeVolume made = make_volume(example_options(), example_tree());
  check_sector(sector_of(made.card, 8192), page().hex_example("fat32-boot-sector"));
  const Sector mbr = sector_of(made.card, 0);
  CHECK(equal(ByteView(mbr).subspan(446, 16), page().hex_example("fat32-partition-entry")));
  const std::vector<std::uint8_t> root = page().hex_example("fat32-root-folder");
  CHECK(root.size() == 128);
  CHECK(equal(ByteView(sector_of(made.card, 16384)).first(root.size()), root));
}

TEST_CASE("the page's table covers the boot sector's fields without a gap and shows its values") {
  const std::vector<std::uint8_t> sector = page().hex_example("fat32-boot-sector");
  std::size_t next = 0;
  const auto tables = page().tables("### Fields of the boot sector");
  for (const TableRow& row : tables.at(0)) {
    INFO(row.at(2));
    const std::size_t width = std::stoul(row.at(1));
    CHECK(std::stoul(row.at(0)) == next);
    REQUIRE(next + width <= sector.size());
    const std::vector<std::uint8_t> value = bytes_of_cell(row.at(3), width);
    CHECK(equal(ByteView(sector).subspan(next, width), value));
    next += width;
  }
  CHECK(next == 93);
}

TEST_CASE("the page's files lie where the plan puts them") {
  const Try<VolumePlan> plan = plan_volume(example_options(), example_tree());
  REQUIRE(plan.has_value());
  const auto table = page().tables("## Worked example").at(0);
  CHECK(table.size() == plan->files.size());
  for (const TableRow& row : table) {
    const PlannedFile* planned = plan->find(cardseal::test::plain(row.at(0)));
    REQUIRE(planned != nullptr);
    const std::string short_name = cardseal::test::plain(row.at(1));
    CHECK(planned->short_path.substr(planned->short_path.rfind('/') + 1) == short_name);
    CHECK(planned->size == std::stoull(row.at(2)));
    CHECK(planned->first_cluster == std::stoul(row.at(3)));
    CHECK(planned->extent.first_lba == std::stoul(row.at(4)));
  }
}

TEST_CASE("the page's limits and smallest volumes are the code's") {
  const auto tables = page().tables("## Limits");
  const std::vector<std::string> limits = {std::to_string(fat::min_clusters),
                                           "1, 2, 4, 8, 16, 32",
                                           std::to_string(fat::max_sectors),
                                           std::to_string(fat::max_bytes),
                                           "4294967295",
                                           std::to_string(fat::max_folder_entries - 1),
                                           "32"};
  REQUIRE(tables.at(0).size() == limits.size());
  for (std::size_t i = 0; i < limits.size(); ++i) {
    CHECK(tables.at(0).at(i).at(1) == limits.at(i));
  }
  CHECK(tables.at(1).size() == 6);
  for (const TableRow& row : tables.at(1)) {
    VolumeOptions options = example_options();
    options.partitioned = false;
    options.data_alignment_sectors = 1;
    options.sectors_per_cluster = static_cast<std::uint32_t>(std::stoul(row.at(0)));
    CHECK(smallest_sectors(fat::min_clusters, options) == std::stoul(row.at(1)));
  }
}
