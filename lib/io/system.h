// Every contact with the operating system's files, behind one interface, so that tests can make any
// single call fail (`FaultingSystem`). Everything above it works on `System&`.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>

#include "base/bytes.h"
#include "diag/error.h"

namespace cardseal::io {

using Path = std::filesystem::path;

// A number of errno, kept so that messages can name it; 0 is success.
struct Errno {
  int number = 0;
};

template <class T>
using Sys = Result<T, Errno>;

enum class Open : std::uint8_t {
  read,       // existing file
  create_new, // fails with EEXIST when there is one
  read_write, // existing file
  device, // existing file or block device, to write to; a device that is in use fails with EBUSY
};

struct Stat {
  std::uint64_t size = 0;
  bool regular = false;
  bool folder = false;
  std::uint32_t mode = 0;      // permission bits
  std::uint64_t allocated = 0; // bytes really used on disk
};

class System {
public:
  virtual ~System() = default;

  // `mode` is for create_new: one without group and other bits is set exactly, any other loses the
  // umask.
  virtual Sys<int> open(const Path& path, Open how, std::uint32_t mode) = 0;
  virtual Sys<void> close(int file) = 0;
  // Reading and writing may do less than asked; 0 bytes read is the end.
  virtual Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) = 0;
  virtual Sys<std::size_t> read_stream(int file, ByteSpan out) = 0; // pipes and terminals
  virtual Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) = 0;
  virtual Sys<std::size_t> write_stream(int file, ByteView bytes) = 0;
  virtual Sys<void> resize(int file, std::uint64_t size) = 0;
  virtual Sys<void> sync(int file) = 0;
  // What is read next comes from the medium, as far as the system allows; sync first.
  virtual Sys<void> forget_cached(int file) = 0;
  // Where at or after `offset` the next byte may lie that is no hole of a sparse file; `offset`
  // itself where the system can't tell, the end when only a hole is left.
  virtual std::uint64_t next_data(int, std::uint64_t offset) { return offset; }
  virtual Sys<void> sync_folder(const Path& folder) = 0;
  // Without `replace`, fails with EEXIST when `to` is there, without a moment between look and
  // move.
  virtual Sys<void> rename(const Path& from, const Path& to, bool replace) = 0;
  virtual Sys<void> remove(const Path& path) = 0;
  virtual Sys<void> make_folder(const Path& path) = 0;
  virtual Sys<Stat> stat(const Path& path) = 0;
  virtual Sys<Stat> stat(int file) = 0;
};

System& real_system();

// `errno` as a desk error: no such file, permission, no space and the like get their own kind.
// `doing` names the step: "read" is reading, every other word ("create", "write", ...) makes an
// output.
Error error_from(Errno number, const Path& path, const char* doing);

} // namespace cardseal::io
