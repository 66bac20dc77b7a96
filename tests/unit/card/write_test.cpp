// A card image onto a medium: order, proof, and media that lie.
#include <cerrno>
#include <filesystem>

#include "card/write.h"
#include "fat32/reader.h"
#include "fat32/writer.h"
#include "io/faulting.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// Passes on to the real system, and treats what is written to `path` as a medium of its own kind.
class Medium final : public io::System {
public:
  std::uint64_t real_bytes = UINT64_MAX;  // beyond, addresses fold
  std::uint64_t keeps_below = UINT64_MAX; // beyond, writes are lost
  std::optional<std::uint64_t> spoils;    // this byte comes back with a bit turned
  std::vector<std::uint64_t> writes;      // where each began

  io::Sys<int> open(const io::Path& path, io::Open how, std::uint32_t mode) override {
    const io::Sys<int> file = below_.open(path, how, mode);
    if (file && how == io::Open::device) {
      device_ = *file;
    }
    return file;
  }
  io::Sys<void> close(int file) override { return below_.close(file); }
  io::Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) override {
    if (file != device_) {
      return below_.read(file, offset, out);
    }
    const ByteSpan part = out.first(std::min<std::size_t>(out.size(), 512));
    const io::Sys<std::size_t> got = below_.read(file, offset % real_bytes, part);
    if (got && spoils && *spoils >= offset && *spoils < offset + *got) {
      part[*spoils - offset] ^= 0x10;
    }
    return got;
  }
  io::Sys<std::size_t> read_stream(int file, ByteSpan out) override {
    return below_.read_stream(file, out);
  }
  io::Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) override {
    if (file != device_) {
      return below_.write(file, offset, bytes);
    }
    writes.push_back(offset);
    const ByteView part = bytes.first(std::min<std::size_t>(bytes.size(), 512));
    return offset >= keeps_below ? io::Sys<std::size_t>(part.size())
                                 : below_.write(file, offset % real_bytes, part);
  }
  io::Sys<std::size_t> write_stream(int file, ByteView bytes) override {
    return below_.write_stream(file, bytes);
  }
  io::Sys<void> resize(int file, std::uint64_t size) override { return below_.resize(file, size); }
  io::Sys<void> sync(int file) override { return below_.sync(file); }
  io::Sys<void> forget_cached(int file) override { return below_.forget_cached(file); }
  io::Sys<void> sync_folder(const io::Path& folder) override { return below_.sync_folder(folder); }
  io::Sys<void> rename(const io::Path& from, const io::Path& to, bool replace) override {
    return below_.rename(from, to, replace);
  }
  io::Sys<void> remove(const io::Path& path) override { return below_.remove(path); }
  io::Sys<void> make_folder(const io::Path& path) override { return below_.make_folder(path); }
  io::Sys<io::Stat> stat(const io::Path& path) override { return below_.stat(path); }
  io::Sys<io::Stat> stat(int file) override { return below_.stat(file); }

private:
  io::System& below_ = io::real_system();
  int device_ = -1;
};

std::uint8_t content_byte(std::uint64_t offset) {
  return static_cast<std::uint8_t>((offset + 1) * 0x9E3779B97F4A7C15ULL >> 56);
}

// The smallest FAT32 image with one file of a megabyte, and a file of junk that stands for a card a
// little larger.
struct CardDesk {
  TempFolder folder;
  io::Path image = folder / "card.img";
  io::Path card = folder / "card";
  Medium medium;

  CardDesk() {
    fat32::VolumeOptions options;
    options.image_sectors = fat32::smallest_image;
    options.sectors_per_cluster = 1;
    options.label = "CARD";
    options.time = {2026, 3, 2, 9, 15, 0};
    fat32::Node file;
    file.short_name = "FROST.CRP";
    file.size = 1'000'000;
    const Try<fat32::VolumePlan> plan = fat32::plan_volume(options, {file});
    REQUIRE(plan);
    Try<io::NewFile> made = io::NewFile::create(io::real_system(), image, io::IfExists::refuse);
    REQUIRE(made);
    fat32::NewFileSink sink(*made);
    const auto content = [](const fat32::PlannedFile&, std::uint64_t offset,
                            ByteSpan out) -> Try<void> {
      for (std::size_t i = 0; i < out.size(); ++i) {
        out[i] = content_byte(offset + i);
      }
      return {};
    };
    REQUIRE(fat32::write_volume(*plan, content, sink));
    REQUIRE(made->commit());
    const io::Bytes junk(bytes() + 4096, 0x6B);
    REQUIRE(io::write_file(io::real_system(), card, junk, io::IfExists::refuse));
  }
  std::uint64_t bytes() const { return std::filesystem::file_size(image); }
  Try<card::WriteReport> write(io::System& system, bool full = false) const {
    const Try<io::ReadFile> from = io::ReadFile::open(io::real_system(), image);
    REQUIRE(from);
    Try<io::Device> to = io::Device::open(system, card);
    REQUIRE(to);
    card::WriteOptions options;
    options.full = full;
    options.nonce.fill(0x51);
    return card::write_to_device(*from, *to, options);
  }
  io::Bytes on_card() const {
    return *io::read_file(io::real_system(), card, std::uint64_t{1} << 30);
  }
  io::Bytes of_image() const {
    return *io::read_file(io::real_system(), image, std::uint64_t{1} << 30);
  }
  bool shows_a_volume() const {
    const Try<io::ReadFile> file = io::ReadFile::open(io::real_system(), card);
    REQUIRE(file);
    fat32::FileSource source(*file);
    return fat32::Volume::open(source).has_value();
  }
};

std::string code_of(const Try<card::WriteReport>& report) {
  return report ? "written" : report.error().code;
}

} // namespace

TEST_CASE("what the volume uses is written, and a full write leaves nothing of before") {
  CardDesk desk;
  REQUIRE(code_of(desk.write(desk.medium)) == "written");
  const io::Bytes image = desk.of_image();
  io::Bytes on_card = desk.on_card();
  const Try<io::ReadFile> file = io::ReadFile::open(io::real_system(), desk.image);
  const Try<std::uint64_t> used = card::used_bytes(*file);
  REQUIRE(used);
  CHECK(*used < image.size() / 2);
  CHECK(std::equal(image.begin(), image.begin() + static_cast<std::ptrdiff_t>(*used),
                   on_card.begin()));
  CHECK(on_card[*used + 1024] == 0x6B); // free space keeps what it had
  CHECK(on_card.back() == 0x6B);        // behind the image too
  CHECK(desk.shows_a_volume());
  CHECK(desk.medium.writes.front() == 0);
  CHECK(desk.medium.writes.back() == 0);

  const Try<card::WriteReport> full = desk.write(desk.medium, true);
  REQUIRE(full);
  CHECK(full->written == image.size());
  on_card = desk.on_card();
  CHECK(std::equal(image.begin(), image.end(), on_card.begin()));
  CHECK(on_card.back() == 0x6B);
}

TEST_CASE("a card that holds less than it says, or loses writes, is found before it is trusted") {
  CardDesk desk;
  for (const std::uint64_t real : {8'388'608U, 16'777'216U, 33'554'432U}) {
    desk.medium.real_bytes = real;
    CHECK(code_of(desk.write(desk.medium)) == "card-smaller");
    CHECK_FALSE(desk.shows_a_volume());
  }
  desk.medium.real_bytes = UINT64_MAX;
  desk.medium.keeps_below = desk.bytes() - 512;
  CHECK(code_of(desk.write(desk.medium)) == "card-loses-writes");
  desk.medium.keeps_below = 6'000'000;
  CHECK(code_of(desk.write(desk.medium)) == "card-loses-writes");
  CHECK_FALSE(desk.shows_a_volume());
}

TEST_CASE("a byte that comes back otherwise is found, and the card stays without a volume") {
  CardDesk desk;
  for (const std::uint64_t at : {std::uint64_t{512}, std::uint64_t{4'200'001}}) {
    desk.medium.spoils = at;
    const Try<card::WriteReport> report = desk.write(desk.medium);
    REQUIRE_FALSE(report);
    CHECK(report.error().kind == ErrorKind::refused);
    CHECK_FALSE(desk.shows_a_volume());
  }
  desk.medium.spoils = 3; // in the sector that is written last
  CHECK_FALSE(desk.write(desk.medium));
}

TEST_CASE("a card stopped in the middle at any write shows no volume, or the whole one") {
  CardDesk desk;
  io::FaultingSystem counting(io::real_system());
  REQUIRE(desk.write(counting));
  const std::uint64_t calls = counting.changing_calls();
  CHECK(calls > 20);
  int whole = 0;
  for (std::uint64_t at = 0; at < calls; ++at) {
    io::FaultingSystem cut(io::real_system());
    cut.fail_at(at, EIO);
    cut.stay_down(true);
    INFO(at);
    CHECK_FALSE(desk.write(cut));
    whole += desk.shows_a_volume() ? 1 : 0;
  }
  // The one before the first write found the volume of before; the one after the last left it.
  CHECK(whole == 2);
}

TEST_CASE("what is no card image is refused before the card is touched, by a full write too") {
  CardDesk desk;
  const io::Bytes before = desk.on_card();
  for (const std::size_t size : {std::size_t{100}, std::size_t{5000}, std::size_t{1} << 20}) {
    REQUIRE(io::write_file(io::real_system(), desk.image, io::Bytes(size, 0x33),
                           io::IfExists::replace));
    const Try<card::WriteReport> report = desk.write(desk.medium, true);
    INFO(size);
    REQUIRE_FALSE(report);
    CHECK((report.error().code == "image-size" || report.error().code == "fat32-no-volume"));
    CHECK(desk.on_card() == before);
  }
}

TEST_CASE("a disk that is mounted, in use, too small, large or fixed is not written by mistake") {
  io::DeviceFacts device;
  device.path = "/dev/sdx";
  device.bytes = 1'967'128'576;
  device.removable = true;
  const auto code = [&](card::WriteAllowed allowed = {}) {
    const Try<void> checked = card::check_target(device, 1'000'000'000, allowed);
    return checked ? std::string("free") : checked.error().code;
  };
  CHECK(code() == "free");
  const io::DeviceFacts good = device;
  device.partition = true;
  CHECK(code() == "part-of-device");
  device = good;
  device.mounted = {"/"};
  CHECK(code({true, true}) == "device-mounted");
  device = good;
  device.other_users = {"swap"};
  CHECK(code({true, true}) == "device-in-use");
  device = good;
  device.read_only = true;
  CHECK(code() == "device-read-only");
  device = good;
  device.sector_bytes = 4096;
  CHECK(code() == "device-sectors");
  device = good;
  device.bytes = 999'999'999;
  CHECK(code() == "device-too-small");
  device.bytes = card::usual_card_bytes + 512;
  CHECK(code() == "device-large");
  CHECK(code({true, false}) == "free");
  device = good;
  device.removable = false;
  CHECK(code() == "device-fixed");
  CHECK(code({false, true}) == "free");
}
