// The card itself: its volume, its files, a device that lies, and single flipped bits.
#include "format/fat32_layout.h"
#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace fat = cardseal::format::fat;

namespace {

void set_entry(const Card& card, std::uint32_t cluster, std::uint32_t value) {
  std::array<std::uint8_t, 4> bytes{};
  store_le32(bytes.data(), value);
  card.set(card.plan.shape.fat_lba(0) + cluster / 128, cluster % 128 * 4, bytes);
}

// Where the directory entry of a file in CARDSEAL stands.
std::pair<std::uint32_t, std::size_t> entry_of(const Card& card, std::string_view short_name) {
  const fat32::PlannedFolder& folder = card.plan.folders[1];
  const std::uint32_t first = card.plan.shape.lba_of(folder.first_cluster);
  for (std::uint32_t i = 0; i < folder.cluster_count * card.plan.shape.sectors_per_cluster; ++i) {
    const Bytes sector = card.sector(first + i);
    for (std::size_t at = 0; at < 512; at += 32) {
      if (text_of(ByteView(sector).subspan(at, 11)) == short_name) {
        return {first + i, at};
      }
    }
  }
  throw std::runtime_error("no such entry");
}

} // namespace

TEST_CASE("a card that can't be read is refused with the sector", "[check-501]") {
  CardKit kit;
  Bench bench(kit);
  const std::uint32_t bad = bench.card.lba_of("CARDSEAL/P01.CRP") + 3;
  bench.on_read = [&](std::uint32_t lba, ByteSpan bytes) {
    return lba > bad || lba + bytes.size() / 512 <= bad;
  };
  CHECK(number(bench.admit()) == 501);
  bench.on_read = nullptr;
  bench.reader.sector_count = bad; // a card cut short
  const Outcome cut = bench.admit();
  CHECK((number(cut) == 501 || number(cut) == 503));
}

TEST_CASE("a first sector that is neither volume nor table of one partition is refused",
          "[check-502]") {
  CardKit kit;
  kit.partitioned = true;
  const std::array<std::uint8_t, 1> second{0x0C};
  Bench two(kit);
  two.card.set(0, fat::mbr::entries + fat::mbr::entry_bytes + fat::mbr::type, second);
  CHECK(number(two.admit()) == 502);
  Bench type(kit);
  const std::array<std::uint8_t, 1> fat16{0x06};
  type.card.set(0, fat::mbr::entries + fat::mbr::type, fat16);
  CHECK(number(type.admit()) == 502);
  Bench mark(kit);
  mark.card.set(0, 511, second);
  CHECK(number(mark.admit()) == 502);
  Bench beyond(kit);
  const std::array<std::uint8_t, 4> far{0xFF, 0xFF, 0xFF, 0x7F};
  beyond.card.set(0, fat::mbr::entries + fat::mbr::first_lba, far);
  CHECK(number(beyond.admit()) == 502);
}

TEST_CASE("each field of the boot sector that would change the volume is refused", "[check-503]") {
  struct Change {
    std::size_t offset;
    Bytes value;
  };
  const std::vector<Change> changes{
      {fat::boot::bytes_per_sector, {0x00, 0x04}},
      {fat::boot::sectors_per_cluster, {0}},
      {fat::boot::sectors_per_cluster, {3}},
      {fat::boot::reserved_sectors, {0, 0}},
      {fat::boot::fat_count, {0}},
      {fat::boot::fat_count, {3}},
      {fat::boot::root_entries, {1}},
      {fat::boot::total_sectors_16, {1}},
      {fat::boot::fat_sectors_16, {1}},
      {fat::boot::version, {1}},
      {fat::boot::ext_flags, {0x80}},
      {fat::boot::media, {0x00}},
      {fat::boot::total_sectors, {0, 0, 1, 0}},
      {fat::boot::total_sectors, {0, 0, 0, 1}},
      {fat::boot::fat_sectors, {1, 0, 0, 0}},
      {fat::boot::root_cluster, {0, 0, 0, 0}},
      {fat::boot::root_cluster, {0, 0, 2, 0}},
      {fat::boot::sectors_per_cluster, {2}},
      {fat::boot::type_text, {'X'}},
  };
  CardKit kit;
  kit.partitioned = true;
  Bench bench(kit);
  const std::uint32_t boot = bench.card.plan.shape.partition_lba;
  const Bytes good = bench.card.sector(boot);
  for (const Change& change : changes) {
    bench.card.set(boot, change.offset, change.value);
    INFO(change.offset);
    CHECK(number(bench.admit()) == 503);
    bench.card.set(boot, 0, good);
  }
  CHECK(bench.admit().ok());
}

TEST_CASE("a chain that does not fit its file is refused", "[check-504]") {
  CardKit kit;
  Bench bench(kit);
  const fat32::PlannedFile* file = bench.card.plan.find("CARDSEAL/P01.CRP");
  const std::uint32_t cluster = file->first_cluster;
  for (const std::uint32_t bad : {0U, 1U, 0x0FFFFFF7U, 0x0FFFFFFFU, 0x0FFFFFF0U, cluster}) {
    set_entry(bench.card, cluster + 2, bad);
    INFO(bad);
    // A chain that turns back gives other bytes or no end where the size wants one.
    CHECK(number(bench.admit()) == 504);
  }
  set_entry(bench.card, cluster + 2, cluster + 3);
  set_entry(bench.card, cluster + file->cluster_count - 1, cluster);
  CHECK(number(bench.admit()) == 504);                                  // longer than its size
  set_entry(bench.card, cluster + file->cluster_count - 1, 0xFFFFFFF8); // any end, high bits set
  CHECK(bench.admit().ok());
}

TEST_CASE("a folder that loops ends in bounded time", "[check-504]") {
  CardKit kit;
  Bench bench(kit);
  const fat32::PlannedFolder& folder = bench.card.plan.folders[1];
  // Fill its clusters with entries in use, and let the last lead to the first.
  Bytes used(512, 'X');
  for (std::size_t at = 11; at < 512; at += 32) {
    used[at] = fat::entry::archive;
  }
  for (std::uint32_t i = 0; i < folder.cluster_count; ++i) {
    bench.card.set(bench.card.plan.shape.lba_of(folder.first_cluster + i), 0, used);
  }
  set_entry(bench.card, folder.first_cluster + folder.cluster_count - 1, folder.first_cluster);
  std::size_t reads = 0;
  bench.on_read = [&](std::uint32_t, ByteSpan) { return ++reads < 100'000; };
  CHECK(number(bench.admit()) == 504);
}

TEST_CASE("a file that the index lists and the card lacks is refused with its place",
          "[check-505]") {
  CardKit kit;
  kit.on_card = [](auto& files) { files.erase("README.TXT"); };
  Bench bench(kit);
  const Outcome outcome = bench.admit();
  CHECK(number(outcome) == 505);
  CHECK(outcome.item == 5); // a package, an allotment, A01.S01, TRUST.S01, TRUST.TXT, README.TXT
  CardKit empty;
  empty.on_card = [](auto& files) { files.erase("CARDSEAL/CARD.TXT"); };
  Bench without(empty);
  CHECK(number(without.admit()) == 505);
}

TEST_CASE("a file of another size than signed is refused", "[check-506]") {
  CardKit kit;
  kit.on_card = [](auto& files) { files["README.TXT"].push_back('\n'); };
  Bench bench(kit);
  const Outcome outcome = bench.admit();
  CHECK(number(outcome) == 506);
  CHECK(outcome.item == 5);
}

TEST_CASE("a file of other bytes than signed is refused, whatever kind it is", "[check-507]") {
  for (const char* path : {"README.TXT", "CARDSEAL/A01.TXT", "CARDSEAL/P01.CRP"}) {
    CardKit kit;
    kit.on_card = [&](auto& files) { files[path].back() ^= 1; };
    Bench bench(kit);
    INFO(path);
    CHECK(number(bench.admit()) == 507);
  }
}

TEST_CASE("a file that the index does not list has no effect") {
  CardKit kit;
  kit.on_card = [](auto& files) { files["CARDSEAL/P02.CRP"] = {'x'}; };
  Bench bench(kit);
  CHECK(bench.admit().ok());
}

TEST_CASE("a log that does not lie where the index says is refused", "[check-508]") {
  CardKit shifted;
  shifted.on_index = [](format::CardIndex& i) { ++i.log.value.first; };
  Bench other_start(shifted);
  CHECK(number(other_start.admit()) == 508);
  CardKit longer;
  longer.on_index = [](format::CardIndex& i) { ++i.log.value.count; };
  Bench other_size(longer);
  CHECK(number(other_size.admit()) == 508);

  CardKit kit;
  Bench bench(kit);
  const auto [lba, at] = entry_of(bench.card, "LOG     CSV");
  const std::array<std::uint8_t, 2> start{0x40, 0x00};
  bench.card.set(lba, at + fat::entry::cluster_low, start);
  CHECK(number(bench.admit()) == 508); // the directory entry was turned to other sectors

  Bench scattered(kit);
  const std::uint32_t first = scattered.card.plan.find("CARDSEAL/LOG.CSV")->first_cluster;
  set_entry(scattered.card, first + 1, 60'000);
  set_entry(scattered.card, 60'000, first + 3);
  CHECK(number(scattered.admit()) == 508);
}

TEST_CASE("a device whose second read differs never gets a byte of a bad block out",
          "[check-510]") {
  CardKit kit;
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  const format::Extent& image = bench.station->job().verdict.layout.image;
  const std::uint32_t first = bench.card.lba_of("CARDSEAL/P01.CRP") + image.offset / 512;
  for (std::uint32_t block = 0; block < 3; ++block) {
    const std::uint32_t lie = first + block * 8 + 1;
    bench.on_read = [&](std::uint32_t lba, ByteSpan bytes) {
      if (lba <= lie && lie < lba + bytes.size() / 512) {
        bytes[(lie - lba) * 512 + 100] ^= 1;
      }
      return true;
    };
    Bytes out;
    const Outcome outcome = stream(*bench.station, out);
    CHECK(number(outcome) == 510);
    CHECK(outcome.position == block * 4096);
    CHECK(out == Bytes(kit.image.begin(), kit.image.begin() + block * 4096));
    ByteView after;
    CHECK(number(bench.station->next_block(after)) == 510); // not what the end looks like
    CHECK(after.empty());
    bench.on_read = nullptr;
    CHECK(stream(*bench.station, out).ok()); // the next cycle proves every block anew
    CHECK(out == kit.image);
  }
}

// Everything that is read twice, with a device that gives the good bytes first: the second answer
// is never believed.
TEST_CASE("a card that changes after its files were hashed is refused") {
  CardKit kit;
  Bench bench(kit);
  std::size_t total = 0;
  bench.on_read = [&](std::uint32_t, ByteSpan) { return ++total > 0; };
  REQUIRE(bench.admit().ok());
  const std::uint32_t package = bench.card.lba_of("CARDSEAL/P01.CRP");
  const std::uint32_t allotment = bench.card.lba_of("CARDSEAL/A01.TXT");
  std::size_t refused = 0;
  for (const std::uint32_t target :
       {package + 1, package + 4, package + 8, package + 9, allotment}) {
    std::size_t times = 0;
    bench.on_read = [&](std::uint32_t lba, ByteSpan bytes) {
      if (lba <= target && target < lba + bytes.size() / 512 && ++times > 1) {
        bytes[(target - lba) * 512 + 70] ^= 1;
      }
      return true;
    };
    const Outcome outcome = bench.admit();
    INFO(target - package);
    CHECK_FALSE(outcome.ok());
    CHECK(times > 1);
    refused += outcome.ok() ? 0 : 1;
  }
  CHECK(refused == 5);
}

TEST_CASE("every flipped bit of a signed file on the card is refused, or gives the same job") {
  CardKit kit;
  Bench bench(kit);
  const SlotStore fresh = bench.store;
  for (const auto& [path, bytes] : kit.files) {
    if (path == "CARDSEAL/LOG.CSV") {
      continue;
    }
    const std::uint32_t first = bench.card.lba_of(path);
    const std::size_t step = bytes.size() > 600 ? 211 : 7; // odd, so that every bit is met
    for (std::size_t at = 0; at < bytes.size(); at += step) {
      const Bytes before = bench.card.sector(first + static_cast<std::uint32_t>(at / 512));
      const std::array<std::uint8_t, 1> flipped{
          static_cast<std::uint8_t>(before[at % 512] ^ (1U << (at % 8)))};
      const auto lba = first + static_cast<std::uint32_t>(at / 512);
      bench.card.set(lba, at % 512, flipped);
      bench.store = fresh;
      INFO(path << " byte " << at);
      CHECK_FALSE(bench.admit().ok());
      bench.card.set(lba, 0, before);
    }
  }
  bench.store = fresh;
  CHECK(bench.admit().ok());
}

TEST_CASE("what the loader keeps in memory stays within its limit") {
  CHECK(sizeof(loader::Arena) + sizeof(loader::StationMemory) <= 16'384);
}
