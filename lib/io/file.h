// Whole files in, whole files out.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "io/system.h"

namespace cardseal::io {

using Bytes = std::vector<std::uint8_t>;

// Reads a whole file or stream; refuses one larger than `limit` bytes, a file before reading it.
// "-" is standard input.
Try<Bytes> read_file(System& system, const Path& path, std::uint64_t limit);

enum class IfExists : std::uint8_t { refuse, replace };

inline constexpr std::uint32_t mode_public = 0666; // less the umask
inline constexpr std::uint32_t mode_secret = 0600; // whatever the umask

// A file that appears under its name whole and synced, or not at all. Until commit() it lives
// beside its place under a temporary name, which the destructor removes. Holes stay holes.
class NewFile {
public:
  static Try<NewFile> create(System& system, const Path& path, IfExists if_exists,
                             std::uint32_t mode = mode_public);
  NewFile(NewFile&& other) noexcept;
  NewFile& operator=(NewFile&&) = delete;
  ~NewFile();

  Try<void> write_at(std::uint64_t offset, ByteView bytes);
  Try<void> resize(std::uint64_t size);                        // grows by a hole
  Try<void> read_at(std::uint64_t offset, ByteSpan out) const; // exactly out.size() bytes
  // Sync, rename into place, sync the folder. After an error the name holds what it held before.
  // One exception: when only the last step fails, and the old content was replaced or the new can't
  // be taken back, it holds the new bytes, whole.
  Try<void> commit();

private:
  NewFile(System& system, Path path, Path temporary, IfExists if_exists, int file);
  void close_file();
  Try<void> put_in_place();

  System* system_;
  Path path_;
  Path temporary_;
  IfExists if_exists_;
  int file_;
};

// NewFile with these bytes, committed. "-" writes to standard output.
Try<void> write_file(System& system, const Path& path, ByteView bytes, IfExists if_exists,
                     std::uint32_t mode = mode_public);

// An existing file or block device, read at any offset.
class ReadFile {
public:
  static Try<ReadFile> open(System& system, const Path& path);
  ReadFile(ReadFile&& other) noexcept;
  ReadFile& operator=(ReadFile&&) = delete;
  ~ReadFile();

  std::uint64_t size() const { return size_; }
  const Path& path() const { return path_; }
  // Exactly out.size() bytes, or an error that names the offset (bad_data: the file ends before
  // it).
  Try<void> read_at(std::uint64_t offset, ByteSpan out) const;
  // See System::next_data.
  std::uint64_t next_data(std::uint64_t offset) const { return system_->next_data(file_, offset); }

private:
  ReadFile(System& system, Path path, int file, std::uint64_t size);
  System* system_;
  Path path_;
  int file_;
  std::uint64_t size_;
};

} // namespace cardseal::io
