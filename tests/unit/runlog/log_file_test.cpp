// Reading a log that came back, whole and damaged.
#include <algorithm>
#include <random>

#include "logs.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::runlog;

namespace {

struct Folder {
  test::TempFolder folder;
  std::string put(const io::Bytes& bytes) {
    const io::Path path = folder / "log.csv";
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()),
               static_cast<std::streamsize>(bytes.size()));
    return path.string();
  }
  LogFile read(const io::Bytes& bytes) {
    auto log = read_log(io::real_system(), put(bytes));
    REQUIRE(log);
    return *log;
  }
  std::string error_of(const io::Bytes& bytes) {
    const auto log = read_log(io::real_system(), put(bytes));
    return log ? "done" : log.error().code;
  }
};

const std::vector<Entry> four{{1, 1, 1, 100, "BEGUN"},
                              {1, 1, 2, 101, "BEGUN"},
                              {1, 1, 1, 100, "GOOD"},
                              {1, 1, 2, 101, "VERIFY"}};

constexpr std::size_t sector_bytes = format::log_sector;

} // namespace

TEST_CASE("a whole log is read record by record") {
  Folder folder;
  const LogFile log = folder.read(log_bytes(four));
  REQUIRE(log.lines.size() == 4);
  CHECK(log.card == card_one);
  CHECK(log.lines[3].sector == 4);
  CHECK(log.lines[3].record.outcome.view() == "VERIFY");
  CHECK(log.spoiled.empty());
  CHECK(log.broken.empty());
  CHECK(log.repeated.empty());
  CHECK(log.missing_sectors == 0);
}

TEST_CASE("a spoiled, a missing and a repeated record are found where they are") {
  Folder folder;
  io::Bytes bytes = log_bytes(four);
  bytes[2 * sector_bytes + 5] ^= 1; // of record 2
  LogFile log = folder.read(bytes);
  CHECK(log.spoiled == std::vector<std::uint32_t>{2});
  CHECK(log.broken == std::vector<std::uint32_t>{3});
  CHECK(log.lines.size() == 3);

  bytes = log_bytes(four); // record 2 taken out, the rest moved up, one blank more
  bytes.erase(bytes.begin() + 2 * sector_bytes, bytes.begin() + 3 * sector_bytes);
  const io::Bytes blank(bytes.end() - sector_bytes, bytes.end());
  bytes.insert(bytes.end(), blank.begin(), blank.end());
  log = folder.read(bytes);
  CHECK(log.spoiled.empty());
  CHECK(log.broken == std::vector<std::uint32_t>{2});

  bytes = log_bytes(four);
  std::copy_n(bytes.begin() + sector_bytes, sector_bytes, bytes.begin() + 5 * sector_bytes);
  log = folder.read(bytes);
  CHECK(log.repeated == std::vector<std::uint32_t>{5});
  CHECK(log.lines.size() == 4);
}

TEST_CASE("one place with two ordinals is two records, not a repeated one") {
  Folder folder;
  const LogFile log = folder.read(log_bytes({{1, 1, 1, 100, "BEGUN"}, {1, 1, 1, 101, "BEGUN"}}));
  CHECK(log.repeated.empty());
  CHECK(log.lines.size() == 2);
  CHECK(log.sectors == 6);
}

TEST_CASE(
    "a chain that begins anew is no break: a station's note was lost, or it had another card") {
  Folder folder;
  io::Bytes bytes = log_bytes(four);
  const io::Bytes later = log_bytes({{2, 1, 1, 102, "BEGUN"}});
  std::copy_n(later.begin() + sector_bytes, sector_bytes, bytes.begin() + 7 * sector_bytes);
  const LogFile log = folder.read(bytes);
  CHECK(log.lines.size() == 5);
  CHECK(log.broken.empty());
}

TEST_CASE("a copy that is too short is read as far as it goes, and says so") {
  Folder folder;
  io::Bytes bytes = log_bytes(four);
  bytes.resize(4 * sector_bytes + 100);
  const LogFile log = folder.read(bytes);
  CHECK(log.lines.size() == 3);
  CHECK(log.missing_sectors == 5);
}

TEST_CASE("what is no run log is refused by name") {
  Folder folder;
  io::Bytes bytes = log_bytes(four);
  bytes[20] ^= 1;
  CHECK(folder.error_of(bytes) == "log-header");
  CHECK(folder.error_of(io::Bytes(bytes.begin(), bytes.begin() + 100)) == "log-header");
  bytes = log_bytes(four);
  bytes.resize(bytes.size() + sector_bytes, ' ');
  CHECK(folder.error_of(bytes) == "log-header");
  CHECK(folder.error_of({}) != "done");
  CHECK(folder.error_of(io::Bytes(4096, 0x20)) != "done");
}

TEST_CASE("whatever bits of a log turn, no record is read that was not written") {
  Folder folder;
  const io::Bytes good = log_bytes(four);
  std::vector<std::string> written;
  for (std::size_t i = 1; i <= four.size(); ++i) {
    written.emplace_back(good.begin() + i * sector_bytes, good.begin() + (i + 1) * sector_bytes);
  }
  std::mt19937 draw(8); // any seed does: each round is a case of its own
  for (int round = 0; round < 300; ++round) {
    io::Bytes bad = good;
    for (int flips = 0; flips < 1 + round % 4; ++flips) {
      bad[draw() % bad.size()] ^= static_cast<std::uint8_t>(1U << (draw() % 8));
    }
    const auto log = read_log(io::real_system(), folder.put(bad));
    if (!log) {
      CHECK(log.error().code == "log-header");
      continue;
    }
    CHECK(log->lines.size() + log->spoiled.size() >= four.size());
    for (const Line& line : log->lines) {
      std::string sector(sector_bytes, '\0');
      REQUIRE(format::render_log_record(
          line.record,
          format::LogSector(reinterpret_cast<std::uint8_t*>(sector.data()), sector_bytes)));
      CHECK(std::find(written.begin(), written.end(), sector) != written.end());
    }
  }
}

TEST_CASE("a log is found on a card, and a card without one is told from a bad one") {
  test::CardKit kit;
  const test::Card card = kit.build();
  io::Bytes image(std::size_t{card.plan.shape.image_sectors} * 512);
  REQUIRE(card.sectors->read(0, image));
  Folder folder;
  const LogFile log = folder.read(image);
  CHECK(log.lines.empty());
  CHECK(log.card == kit.allotment.card);
  const std::string name = "LOG     CSV"; // the entry of its folder
  const auto at = std::search(image.begin(), image.end(), name.begin(), name.end());
  REQUIRE(at != image.end());
  *at = 'M';
  CHECK(folder.error_of(image) == "log-none");
}
