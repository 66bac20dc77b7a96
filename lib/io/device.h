// A memory card in its reader, as Linux shows it: what stands behind a path, so that people can
// tell it from their disk, and plain writing to it. A regular file may stand for a card.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "io/system.h"

namespace cardseal::io {

struct DeviceRoots { // where the system shows them; tests have their own
  Path sys{"/sys"};
  Path proc{"/proc"};
};

struct DeviceFacts {
  std::string path;
  std::string name; // the system's, such as sdb; a file's own name
  bool file = false;
  std::uint64_t number = 0;       // of the device, or of the file in its file system
  std::string backing;            // the file that a loop device shows; empty: none
  std::uint32_t sector_bytes = 0; // that it is addressed by; 0: not told
  std::uint64_t bytes = 0;
  std::string model; // maker and model as far as it tells them, printable ASCII; may be empty
  std::string serial;
  bool removable = false; // a card, a stick, or a file that stands for one
  bool read_only = false;
  bool partition = false;               // only a part of a device
  std::vector<std::string> partitions;  // their names
  std::vector<std::string> mounted;     // where it or a part of it is mounted
  std::vector<std::string> other_users; // swap, or another device that is made of it
  // 8 hex digits, from name, model, serial, bytes and the first sector, so that another card in the
  // same reader has another one: what people confirm.
  std::string id;
};

// Reads only. Fails for what is neither a regular file nor a block device.
Try<DeviceFacts> look_at_device(System& system, const Path& path, const DeviceRoots& roots = {});

// Of the block device with these numbers, all but its id; `facts` has path and bytes.
void add_block_facts(DeviceFacts& facts, std::uint32_t major, std::uint32_t minor,
                     const DeviceRoots& roots);
// `first` is the first sector.
std::string device_id(const DeviceFacts& facts, ByteView first);

// Would writing to the device change this file: the same one, by whatever name, or what a loop
// device shows?
bool is_same_medium(const DeviceFacts& device, const Path& file);

// Opened for writing, and then held exclusively when it is a block device; or only to be read.
class Device {
public:
  // `how`: Open::device, or Open::read for one that is never written to.
  static Try<Device> open(System& system, const Path& path, Open how = Open::device);
  Device(Device&& other) noexcept;
  Device& operator=(Device&&) = delete;
  ~Device();

  const Path& path() const { return path_; }
  std::uint64_t bytes() const { return bytes_; }
  // Of what is open here, whatever stands at the path by now.
  Try<DeviceFacts> facts(const DeviceRoots& roots = {}) const;
  Try<void> write_at(std::uint64_t offset, ByteView bytes); // all of them
  Try<void> read_at(std::uint64_t offset, ByteSpan out) const;
  Try<void> sync();  // written out to the medium
  Try<void> flush(); // and read from there next

private:
  Device(System& system, Path path, int file, std::uint64_t bytes);
  System* system_;
  Path path_;
  int file_;
  std::uint64_t bytes_;
};

} // namespace cardseal::io
