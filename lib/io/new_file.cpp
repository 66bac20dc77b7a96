#include <array>
#include <cerrno>
#include <string>
#include <utility>

#include "base/number.h"
#include "io/clock.h"
#include "io/exactly.h"
#include "io/file.h"

namespace cardseal::io {

namespace {

constexpr int standard_output = 1;

Path folder_of(const Path& path) {
  const Path folder = path.parent_path();
  return folder.empty() ? Path(".") : folder;
}

// Independent of the file's own name, which may already be as long as the file system allows.
Try<Path> temporary_beside(const Path& path) {
  std::array<std::uint8_t, 8> chance{};
  if (Try<void> filled = fill_random(chance); !filled) {
    return Unexpected(std::move(filled).error());
  }
  std::array<char, 16> digits{};
  spell_hex_bytes(chance, digits);
  return folder_of(path) / (".cardseal-" + std::string(digits.data(), digits.size()) + ".part");
}

// Devices, pipes and folders are never replaced by a file.
Try<void> check_target(System& system, const Path& path, IfExists if_exists) {
  if (!path.has_filename()) {
    return Unexpected(error_from(Errno{EISDIR}, path, "create"));
  }
  const Sys<Stat> there = system.stat(path);
  if (!there) {
    return {};
  }
  if (there->folder) {
    return Unexpected(error_from(Errno{EISDIR}, path, "create"));
  }
  if (!there->regular) {
    Error error = error_from(Errno{EEXIST}, path, "create");
    error.code = "output-not-a-file";
    error.what = "output exists and is no regular file";
    error.hint = "use another name";
    return Unexpected(std::move(error));
  }
  if (if_exists == IfExists::refuse) {
    return Unexpected(error_from(Errno{EEXIST}, path, "create"));
  }
  return {};
}

template <class Write>
Try<void> all_of(ByteView bytes, const Path& path, Write write) {
  std::size_t stored = 0;
  while (stored < bytes.size()) {
    const Sys<std::size_t> count = write(stored, bytes.subspan(stored));
    if (!count || *count == 0) {
      return Unexpected(error_from(count ? Errno{EIO} : count.error(), path, "write"));
    }
    stored += *count;
  }
  return {};
}

} // namespace

Try<void> write_exactly(System& system, int file, const Path& path, std::uint64_t offset,
                        ByteView bytes) {
  return all_of(bytes, path, [&](std::size_t stored, ByteView rest) {
    return system.write(file, offset + stored, rest);
  });
}

Try<void> write_stream_exactly(System& system, int file, const Path& path, ByteView bytes) {
  return all_of(bytes, path,
                [&](std::size_t, ByteView rest) { return system.write_stream(file, rest); });
}

Try<NewFile> NewFile::create(System& system, const Path& path, IfExists if_exists,
                             std::uint32_t mode) {
  if (Try<void> fine = check_target(system, path, if_exists); !fine) {
    return Unexpected(std::move(fine).error());
  }
  Try<Path> temporary = temporary_beside(path);
  if (!temporary) {
    return Unexpected(std::move(temporary).error());
  }
  const Sys<int> file = system.open(*temporary, Open::create_new, mode);
  if (!file) {
    return Unexpected(error_from(file.error(), path, "create"));
  }
  return NewFile(system, path, *std::move(temporary), if_exists, *file);
}

NewFile::NewFile(System& system, Path path, Path temporary, IfExists if_exists, int file)
    : system_(&system), path_(std::move(path)), temporary_(std::move(temporary)),
      if_exists_(if_exists), file_(file) {}

NewFile::NewFile(NewFile&& other) noexcept
    : system_(other.system_), path_(std::move(other.path_)),
      temporary_(std::exchange(other.temporary_, {})), if_exists_(other.if_exists_),
      file_(std::exchange(other.file_, -1)) {}

NewFile::~NewFile() {
  close_file();
  if (!temporary_.empty()) {
    (void)system_->remove(temporary_);
  }
}

void NewFile::close_file() {
  if (file_ >= 0) {
    (void)system_->close(std::exchange(file_, -1));
  }
}

Try<void> NewFile::write_at(std::uint64_t offset, ByteView bytes) {
  return write_exactly(*system_, file_, path_, offset, bytes);
}

Try<void> NewFile::read_at(std::uint64_t offset, ByteSpan out) const {
  return read_exactly(*system_, file_, path_, offset, out);
}

Try<void> NewFile::resize(std::uint64_t size) {
  if (const Sys<void> resized = system_->resize(file_, size); !resized) {
    return Unexpected(error_from(resized.error(), path_, "write"));
  }
  return {};
}

Try<void> NewFile::commit() {
  // The data must be safe before the name says that it is there.
  if (const Sys<void> synced = system_->sync(file_); !synced) {
    return Unexpected(error_from(synced.error(), path_, "write"));
  }
  close_file();
  return put_in_place();
}

Try<void> NewFile::put_in_place() {
  const bool replace = if_exists_ == IfExists::replace;
  if (const Sys<void> moved = system_->rename(temporary_, path_, replace); !moved) {
    return Unexpected(error_from(moved.error(), path_, "create"));
  }
  temporary_.clear();
  if (const Sys<void> synced = system_->sync_folder(folder_of(path_)); !synced) {
    if (!replace) {
      (void)system_->remove(path_);
    }
    return Unexpected(error_from(synced.error(), path_, "write"));
  }
  return {};
}

Try<void> write_file(System& system, const Path& path, ByteView bytes, IfExists if_exists,
                     std::uint32_t mode) {
  if (path == "-") {
    return write_stream_exactly(system, standard_output, "standard output", bytes);
  }
  Try<NewFile> file = NewFile::create(system, path, if_exists, mode);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  if (Try<void> written = file->write_at(0, bytes); !written) {
    return written;
  }
  return file->commit();
}

} // namespace cardseal::io
