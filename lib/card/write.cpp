#include "card/write.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/bytes.h"
#include "card/layout.h"
#include "fat32/reader.h"
#include "format/run_log.h"

namespace cardseal::card {
namespace {

constexpr std::uint64_t sector = 512;
constexpr std::uint64_t chunk = 1'048'576;
constexpr std::uint64_t between_marks =
    67'108'864; // real sizes are multiples of it, or powers of 2

Error refused(const io::DeviceFacts& device, const char* code, std::string what, std::string found,
              std::string expected, std::string hint) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = std::move(what);
  error.place.file = device.path;
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

std::string listed(const std::vector<std::string>& names) {
  return fmt::format("{}", fmt::join(names, ", "));
}

Try<void> check_use(const io::DeviceFacts& device) {
  if (device.partition) {
    return Unexpected(refused(device, "part-of-device", "this is only a part of a device",
                              device.name, "the whole device",
                              "name the device without the number of a part"));
  }
  if (!device.mounted.empty()) {
    return Unexpected(refused(device, "device-mounted", "this device is mounted",
                              listed(device.mounted), "mounted nowhere",
                              "make sure that it is the card, then unmount it"));
  }
  if (!device.other_users.empty()) {
    return Unexpected(refused(device, "device-in-use", "something else uses this device",
                              listed(device.other_users), "used by nothing",
                              "make sure that it is the card"));
  }
  if (device.read_only) {
    return Unexpected(refused(device, "device-read-only", "this device can't be written",
                              "read-only", "a card that can be written",
                              "look at the tab on the card's edge"));
  }
  return {};
}

// The last cluster that the table of the volume gives to anything; the root's at the least.
Try<std::uint32_t> last_in_use(fat32::SectorSource& source, const fat32::FoundShape& shape) {
  std::uint32_t last = shape.root_cluster;
  io::Bytes part(sector);
  const std::uint32_t clusters = format::fat::first_cluster + shape.cluster_count;
  for (std::uint32_t at = 0; at < shape.fat_sectors; ++at) {
    if (Try<void> got = source.read(shape.fat_lba(shape.active_fat) + at, part); !got) {
      return Unexpected(std::move(got).error());
    }
    for (std::uint32_t i = 0; i < sector / 4; ++i) {
      const std::uint32_t cluster = at * static_cast<std::uint32_t>(sector / 4) + i;
      const bool used = (load_le32(part.data() + std::size_t{i} * 4) & 0x0FFF'FFFFU) != 0;
      last = used && cluster < clusters ? std::max(last, cluster) : last;
    }
  }
  return last;
}

// Marks tell where they stand, so that one found elsewhere shows how a card folds its addresses.
io::Bytes mark_of(const WriteOptions& options, std::uint64_t at) {
  io::Bytes mark(sector, 0xA5);
  std::copy(options.nonce.begin(), options.nonce.end(), mark.begin());
  store_be64(mark.data() + options.nonce.size(), at);
  return mark;
}

class Writing {
public:
  Writing(const io::ReadFile& image, io::Device& device, const WriteOptions& options)
      : image_(image), device_(device), options_(options) {}

  Try<WriteReport> run() {
    // Nothing is touched before the image is known to be one; its first sector is at hand before
    // the card's is cleared.
    Try<std::uint64_t> used = used_bytes(image_);
    if (!used) {
      return Unexpected(std::move(used).error());
    }
    end_ = options_.full ? image_.size() : *used;
    Try<void> done = image_.read_at(0, first_);
    done = done ? clear_first() : std::move(done);
    const auto then = [&](Try<void> (Writing::*step)()) {
      done = done ? (this->*step)() : std::move(done);
    };
    then(&Writing::put_marks);
    then(&Writing::check_marks);
    then(&Writing::write_body);
    then(&Writing::compare_body);
    then(&Writing::write_first);
    return done ? Try<WriteReport>(report_) : Unexpected(std::move(done).error());
  }

private:
  Try<void> clear_first() {
    const io::Bytes zeros(sector);
    Try<void> done = device_.write_at(0, zeros);
    return done ? device_.flush() : done;
  }

  // Every 64 MiB, every power of two below, and the last sector.
  std::vector<std::uint64_t> places() const {
    std::vector<std::uint64_t> out;
    for (std::uint64_t at = 2 * sector; at < std::min(between_marks, image_.size()); at *= 2) {
      out.push_back(at);
    }
    for (std::uint64_t at = between_marks; at < image_.size(); at += between_marks) {
      out.push_back(at);
    }
    if (const std::uint64_t last = image_.size() - sector; out.empty() || out.back() != last) {
      out.push_back(last);
    }
    return out;
  }

  Try<void> put_marks() {
    for (const std::uint64_t at : places()) {
      if (Try<void> put = device_.write_at(at, mark_of(options_, at)); !put) {
        return put;
      }
    }
    return device_.flush();
  }

  Try<void> check_marks() {
    io::Bytes found(sector);
    const std::vector<std::uint64_t> all = places();
    for (const std::uint64_t at : all) {
      if (Try<void> got = device_.read_at(at, found); !got) {
        return got;
      }
      if (found != mark_of(options_, at)) {
        return Unexpected(lying(at, found));
      }
    }
    // Sector 0 was cleared before: a card that folds its addresses has a mark there now.
    if (Try<void> got = device_.read_at(0, found); !got) {
      return got;
    }
    if (std::any_of(found.begin(), found.end(), [](std::uint8_t byte) { return byte != 0; })) {
      return Unexpected(lying(0, found));
    }
    report_.marks = static_cast<std::uint32_t>(all.size()) + 1;
    return {};
  }

  Error lying(std::uint64_t at, const io::Bytes& found) const {
    const bool mark = std::equal(options_.nonce.begin(), options_.nonce.end(), found.begin());
    Error error;
    error.kind = ErrorKind::refused;
    error.code = mark ? "card-smaller" : "card-loses-writes";
    error.what =
        mark ? "this card holds less than it says" : "this card loses what is written to it";
    error.place.file = device_.path().string();
    error.place.item = fmt::format("byte offset {}", at);
    error.found = mark ? fmt::format("what was written to {}",
                                     load_be64(found.data() + options_.nonce.size()))
                       : "other bytes than were written";
    error.expected = "what was written there";
    error.hint = "throw the card away; it is no card for a station";
    return error;
  }

  void tell(WriteStep step, std::uint64_t done) const {
    if (options_.progress) {
      options_.progress({step, done, end_});
    }
  }

  // Calls `work` with offset and bytes of the image, from sector 1 to the end of what counts, then
  // with each sector that had a mark behind that.
  template <class Work>
  Try<void> each_part(WriteStep step, Work work) {
    io::Bytes part;
    const auto take = [&](std::uint64_t at, std::uint64_t size) -> Try<void> {
      part.resize(size);
      Try<void> got = image_.read_at(at, part);
      return got ? work(at, part) : std::move(got);
    };
    for (std::uint64_t at = sector; at < end_; at += chunk) {
      if (Try<void> done = take(at, std::min(chunk, end_ - at)); !done) {
        return done;
      }
      tell(step, std::min(at + chunk, end_));
    }
    for (const std::uint64_t at : places()) {
      if (at >= end_) {
        if (Try<void> done = take(at, sector); !done) {
          return done;
        }
      }
    }
    return {};
  }

  Try<void> write_body() {
    Try<void> done = each_part(WriteStep::write, [&](std::uint64_t at, ByteView bytes) {
      report_.written += bytes.size();
      return device_.write_at(at, bytes);
    });
    return done ? device_.flush() : done;
  }

  Try<void> compare_body() {
    io::Bytes found;
    return each_part(WriteStep::compare, [&](std::uint64_t at, ByteView bytes) -> Try<void> {
      report_.compared += bytes.size();
      return compare(at, bytes, found);
    });
  }

  Try<void> compare(std::uint64_t at, ByteView bytes, io::Bytes& found) {
    found.resize(bytes.size());
    if (Try<void> got = device_.read_at(at, found); !got) {
      return got;
    }
    const auto differ = std::mismatch(bytes.begin(), bytes.end(), found.begin());
    if (differ.first == bytes.end()) {
      return {};
    }
    Error error;
    error.kind = ErrorKind::refused;
    error.code = "card-differs";
    error.what = "the card does not hold what was written to it";
    error.place.file = device_.path().string();
    error.place.item = fmt::format("byte offset {}",
                                   at + static_cast<std::uint64_t>(differ.first - bytes.begin()));
    error.found = fmt::format("{:02X}", *differ.second);
    error.expected = fmt::format("{:02X}", *differ.first);
    error.hint = at == 0
                     ? "throw the card away: it may show a volume that is not sound"
                     : "its first sector was not written, so no station reads it; use another card";
    return Unexpected(std::move(error));
  }

  Try<void> write_first() {
    Try<void> done = device_.write_at(0, first_);
    done = done ? device_.flush() : std::move(done);
    report_.written += sector;
    report_.compared += sector;
    io::Bytes found;
    done = done ? compare(0, first_, found) : std::move(done);
    if (!done) {
      (void)clear_first(); // as far as the card still does what it is told
    }
    return done;
  }

  const io::ReadFile& image_;
  io::Device& device_;
  const WriteOptions& options_;
  std::uint64_t end_ = 0;
  io::Bytes first_ = io::Bytes(sector);
  WriteReport report_;
};

} // namespace

Try<void> check_target(const io::DeviceFacts& device, std::uint64_t image,
                       const WriteAllowed& allowed) {
  if (Try<void> free = check_use(device); !free) {
    return free;
  }
  if (device.sector_bytes != 0 && device.sector_bytes != sector) {
    return Unexpected(refused(device, "device-sectors", "this device has other sectors than cards",
                              fmt::format("{} bytes", device.sector_bytes), "512 bytes",
                              "use a card of 2 GB or less"));
  }
  const std::string bytes = fmt::format("{} bytes", device.bytes);
  if (device.bytes < image) {
    return Unexpected(refused(device, "device-too-small", "the card image does not fit", bytes,
                              fmt::format("at least {} bytes", image),
                              "use a larger card, or make the image for this one"));
  }
  if (device.bytes > usual_card_bytes && !allowed.large) {
    return Unexpected(refused(device, "device-large", "this is larger than a station's card", bytes,
                              fmt::format("at most {} bytes", usual_card_bytes),
                              "if it is the card all the same, say --large"));
  }
  if (!device.removable && !allowed.fixed) {
    return Unexpected(refused(device, "device-fixed",
                              "this device does not say it can be taken out", "a fixed disk",
                              "a removable one", "if it is the card all the same, say --fixed"));
  }
  return {};
}

Try<std::uint64_t> used_bytes(const io::ReadFile& image) {
  if (image.size() == 0 || image.size() % sector != 0) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "image-size";
    error.what = "this is no card image";
    error.place.file = image.path().string();
    error.found = fmt::format("{} bytes", image.size());
    error.expected = "whole sectors of 512 bytes";
    error.hint = "name what cardseal card make wrote";
    return Unexpected(std::move(error));
  }
  fat32::FileSource source(image);
  Try<fat32::Volume> volume = fat32::Volume::open(source);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  const fat32::FoundShape& shape = volume->shape();
  Try<std::uint32_t> last = last_in_use(source, shape);
  if (!last) {
    return Unexpected(std::move(last).error());
  }
  const std::uint64_t end = std::uint64_t{shape.lba_of(*last)} + shape.sectors_per_cluster;
  return std::min(end * sector, image.size());
}

Try<bool> holds_results(io::System& system, const io::Path& device) {
  Try<io::ReadFile> file = io::ReadFile::open(system, device);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  fat32::FileSource source(*file);
  Try<fat32::Volume> volume = fat32::Volume::open(source);
  const fat32::Entry* log = volume ? volume->find(log_path) : nullptr;
  if (log == nullptr) {
    return false; // nothing of ours
  }
  std::array<std::uint8_t, sector> blank{};
  format::render_log_blank(blank);
  io::Bytes record(sector);
  for (std::uint64_t at = sector; at + sector <= log->size; at += sector) { // behind the header
    Try<void> got = volume->read(*log, at, record);
    if (!got) {
      return Unexpected(std::move(got).error());
    }
    if (!std::equal(record.begin(), record.end(), blank.begin())) {
      return true;
    }
  }
  return false;
}

Try<WriteReport> write_to_device(const io::ReadFile& image, io::Device& device,
                                 const WriteOptions& options) {
  return Writing(image, device, options).run();
}

} // namespace cardseal::card
