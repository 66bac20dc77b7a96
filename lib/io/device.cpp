#include "io/device.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <sstream>
#include <utility>

#include <sys/stat.h>
#include <sys/sysmacros.h>

#include "base/bytes.h"
#include "base/crc.h"
#include "base/number.h"
#include "io/exactly.h"

namespace cardseal::io {
namespace {

// One line of the system's, without what could steer a terminal.
std::string line_of(const Path& path) {
  std::ifstream file(path);
  std::string line;
  std::getline(file, line);
  std::string out;
  for (const char c : line) {
    out += c >= ' ' && c <= '~' ? c : '?';
  }
  out.erase(out.find_last_not_of(' ') + 1);
  out.erase(0, std::min(out.find_first_not_of(' '), out.size()));
  return out;
}

bool is_there(const Path& path) {
  std::error_code ignored;
  return std::filesystem::exists(path, ignored);
}

bool is_file(const std::string& path) { // and not a disk, which a loop device can show too
  std::error_code ignored;
  return std::filesystem::is_regular_file(path, ignored);
}

std::vector<Path> inside(const Path& folder) {
  std::error_code ignored;
  std::vector<Path> out;
  for (const auto& entry : std::filesystem::directory_iterator(folder, ignored)) {
    out.push_back(entry.path());
  }
  std::sort(out.begin(), out.end());
  return out;
}

std::string joined(const std::string& a, const std::string& b) {
  return a + (a.empty() || b.empty() ? "" : " ") + b;
}

// mountinfo of proc(5): the third field is the device's numbers, the fifth where it is mounted, the
// one behind " - " and the type its source.
void add_mounts(DeviceFacts& facts, const std::vector<std::string>& numbers,
                const std::vector<std::string>& names, const Path& mounts) {
  std::ifstream file(mounts);
  for (std::string line; std::getline(file, line);) {
    std::istringstream words(line);
    const std::vector<std::string> all{std::istream_iterator<std::string>(words), {}};
    const auto dash = std::find(all.begin(), all.end(), "-");
    if (all.size() < 5 || all.end() - dash < 3) {
      continue;
    }
    const auto has = [](const std::vector<std::string>& list, const std::string& one) {
      return std::find(list.begin(), list.end(), one) != list.end();
    };
    if (has(numbers, all[2]) || has(names, dash[2])) {
      facts.mounted.push_back(all[4]);
    }
  }
}

void add_swap(DeviceFacts& facts, const std::vector<std::string>& names, const Path& swaps) {
  std::ifstream file(swaps);
  for (std::string line; std::getline(file, line);) {
    for (const std::string& name : names) {
      if (line.starts_with(name + " ") || line.starts_with(name + "\t")) {
        facts.other_users.push_back("swap");
      }
    }
  }
}

Error no_device(const Path& path) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "no-device";
  error.what = "this is no memory card";
  error.place.file = path.string();
  error.found = "neither a block device nor a regular file";
  error.expected = "a whole device such as /dev/sdX or /dev/mmcblkX, or a file that stands for one";
  error.hint = "lsblk lists the devices";
  return error;
}

Try<DeviceFacts> facts_of(System& system, int file, const Path& path, const DeviceRoots& roots) {
  struct ::stat status {};
  const Sys<Stat> opened = system.stat(file);
  if (!opened || ::fstat(file, &status) != 0) {
    return Unexpected(error_from(opened ? Errno{errno} : opened.error(), path, "read"));
  }
  DeviceFacts facts;
  facts.path = path.string();
  facts.bytes = opened->size;
  if (S_ISREG(status.st_mode)) {
    facts.file = true;
    facts.removable = true;
    facts.name = path.filename().string();
    facts.number = status.st_ino;
  } else if (S_ISBLK(status.st_mode)) {
    facts.number = status.st_rdev;
    add_block_facts(facts, major(status.st_rdev), minor(status.st_rdev), roots);
  } else {
    return Unexpected(no_device(path));
  }
  std::array<std::uint8_t, 512> first{};
  const std::size_t there = std::min<std::uint64_t>(first.size(), facts.bytes);
  Try<void> got = read_exactly(system, file, path, 0, ByteSpan(first).first(there));
  if (!got) {
    return Unexpected(std::move(got).error());
  }
  facts.id = device_id(facts, first);
  return facts;
}

} // namespace

void add_block_facts(DeviceFacts& facts, std::uint32_t major, std::uint32_t minor,
                     const DeviceRoots& roots) {
  const std::string number = std::to_string(major) + ":" + std::to_string(minor);
  std::error_code ignored;
  const Path link = roots.sys / "dev" / "block" / number;
  const Path folder = std::filesystem::canonical(link, ignored);
  facts.name = folder.filename().string();
  facts.partition = is_there(folder / "partition");
  facts.read_only = line_of(folder / "ro") == "1";
  // Readers on a host's own bus show cards as fixed; a loop device is a file.
  facts.removable = line_of(folder / "removable") == "1" ||
                    line_of(folder / "device" / "type") == "SD" ||
                    is_file(line_of(folder / "loop" / "backing_file"));
  facts.model = joined(line_of(folder / "device" / "vendor"), line_of(folder / "device" / "model"));
  facts.model = joined(facts.model, line_of(folder / "device" / "name"));
  facts.serial = line_of(folder / "device" / "serial");
  facts.backing = line_of(folder / "loop" / "backing_file");
  std::uint64_t sector_bytes = 0;
  if (parse_uint(line_of(folder / "queue" / "logical_block_size"), sector_bytes)) {
    facts.sector_bytes = static_cast<std::uint32_t>(sector_bytes);
  }
  std::vector<std::string> numbers{number};
  std::vector<std::string> names{"/dev/" + facts.name, facts.path};
  for (const Path& one : inside(folder)) {
    if (is_there(one / "partition")) {
      facts.partitions.push_back(one.filename().string());
      numbers.push_back(line_of(one / "dev"));
      names.push_back("/dev/" + one.filename().string());
      for (const Path& holder : inside(one / "holders")) {
        facts.other_users.push_back(holder.filename().string());
      }
    }
  }
  for (const Path& holder : inside(folder / "holders")) {
    facts.other_users.push_back(holder.filename().string());
  }
  add_mounts(facts, numbers, names, roots.proc / "self" / "mountinfo");
  add_swap(facts, names, roots.proc / "swaps");
}

std::string device_id(const DeviceFacts& facts, ByteView first) {
  std::string text = facts.name + '\n' + facts.model + '\n' + facts.serial + '\n' +
                     std::to_string(facts.bytes) + '\n';
  text.append(text_of(first));
  const std::uint32_t sum = crc32(bytes_of(text));
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (int shift = 28; shift >= 0; shift -= 4) {
    out += digits[sum >> shift & 0xFU];
  }
  return out;
}

bool is_same_medium(const DeviceFacts& device, const Path& file) {
  std::error_code ignored;
  return std::filesystem::equivalent(device.path, file, ignored) ||
         (!device.backing.empty() && std::filesystem::equivalent(device.backing, file, ignored));
}

Try<DeviceFacts> look_at_device(System& system, const Path& path, const DeviceRoots& roots) {
  const Sys<int> file = system.open(path, Open::read, 0);
  if (!file) {
    return Unexpected(error_from(file.error(), path, "read"));
  }
  Try<DeviceFacts> facts = facts_of(system, *file, path, roots);
  (void)system.close(*file);
  return facts;
}

Try<DeviceFacts> Device::facts(const DeviceRoots& roots) const {
  return facts_of(*system_, file_, path_, roots);
}

Device::Device(System& system, Path path, int file, std::uint64_t bytes)
    : system_(&system), path_(std::move(path)), file_(file), bytes_(bytes) {}

Device::Device(Device&& other) noexcept
    : system_(other.system_), path_(std::move(other.path_)), file_(std::exchange(other.file_, -1)),
      bytes_(other.bytes_) {}

Device::~Device() {
  if (file_ >= 0) {
    (void)system_->close(file_);
  }
}

Try<Device> Device::open(System& system, const Path& path, Open how) {
  const Sys<int> file = system.open(path, how, 0);
  if (!file) {
    return Unexpected(error_from(file.error(), path, how == Open::read ? "read" : "write"));
  }
  const Sys<Stat> status = system.stat(*file);
  if (!status) {
    (void)system.close(*file);
    return Unexpected(error_from(status.error(), path, "read"));
  }
  return Device(system, path, *file, status->size);
}

Try<void> Device::write_at(std::uint64_t offset, ByteView bytes) {
  return write_exactly(*system_, file_, path_, offset, bytes);
}

Try<void> Device::read_at(std::uint64_t offset, ByteSpan out) const {
  return read_exactly(*system_, file_, path_, offset, out);
}

Try<void> Device::sync() {
  const Sys<void> done = system_->sync(file_);
  return done ? Try<void>{} : Unexpected(error_from(done.error(), path_, "write"));
}

Try<void> Device::flush() {
  if (Try<void> done = sync(); !done) {
    return done;
  }
  const Sys<void> forgotten = system_->forget_cached(file_);
  return forgotten ? Try<void>{} : Unexpected(error_from(forgotten.error(), path_, "write"));
}

} // namespace cardseal::io
