#include <array>
#include <cerrno>
#include <string>
#include <utility>

#include <unistd.h>

#include "io/exactly.h"
#include "io/file.h"

namespace cardseal::io {

namespace {

std::string bytes_text(std::uint64_t count) {
  return std::to_string(count) + " bytes";
}

Error too_large(const Path& path, std::string found, std::uint64_t limit) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "file-too-large";
  error.what = "file is too large";
  error.place.file = path.string();
  error.found = std::move(found);
  error.expected = "at most " + bytes_text(limit);
  error.hint = "check that this is the right file";
  return error;
}

Error too_short(const Path& path, std::uint64_t offset, std::size_t got, std::size_t wanted) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "file-short";
  error.what = "file ends too early";
  error.place.file = path.string();
  error.place.item = "byte offset " + std::to_string(offset);
  error.found = bytes_text(got);
  error.expected = bytes_text(wanted);
  error.hint = "the file was cut short; get it again";
  return error;
}

Try<Bytes> read_to_end(System& system, int file, const Path& path, std::uint64_t limit,
                       std::uint64_t expected) {
  std::array<std::uint8_t, 65536> buffer; // NOLINT: filled before it is read
  Bytes out;
  out.reserve(static_cast<std::size_t>(expected));
  for (;;) {
    const Sys<std::size_t> got = system.read_stream(file, buffer);
    if (!got) {
      return Unexpected(error_from(got.error(), path, "read"));
    }
    if (*got == 0) {
      return out;
    }
    if (*got > limit - out.size()) {
      return Unexpected(too_large(path, "more", limit));
    }
    out.insert(out.end(), buffer.begin(), buffer.begin() + static_cast<std::ptrdiff_t>(*got));
  }
}

} // namespace

Try<void> read_exactly(System& system, int file, const Path& path, std::uint64_t offset,
                       ByteSpan out) {
  std::size_t filled = 0;
  while (filled < out.size()) {
    const Sys<std::size_t> got = system.read(file, offset + filled, out.subspan(filled));
    if (!got) {
      Error error = error_from(got.error(), path, "read");
      error.place.item = "byte offset " + std::to_string(offset + filled);
      return Unexpected(std::move(error));
    }
    if (*got == 0) {
      return Unexpected(too_short(path, offset, filled, out.size()));
    }
    filled += *got;
  }
  return {};
}

Try<ReadFile> ReadFile::open(System& system, const Path& path) {
  const Sys<int> file = system.open(path, Open::read, 0);
  if (!file) {
    return Unexpected(error_from(file.error(), path, "read"));
  }
  const Sys<Stat> status = system.stat(*file);
  if (!status || status->folder) {
    (void)system.close(*file);
    return Unexpected(error_from(status ? Errno{EISDIR} : status.error(), path, "read"));
  }
  return ReadFile(system, path, *file, status->size);
}

ReadFile::ReadFile(System& system, Path path, int file, std::uint64_t size)
    : system_(&system), path_(std::move(path)), file_(file), size_(size) {}

ReadFile::ReadFile(ReadFile&& other) noexcept
    : system_(other.system_), path_(std::move(other.path_)), file_(std::exchange(other.file_, -1)),
      size_(other.size_) {}

ReadFile::~ReadFile() {
  if (file_ >= 0) {
    (void)system_->close(file_);
  }
}

Try<void> ReadFile::read_at(std::uint64_t offset, ByteSpan out) const {
  return read_exactly(*system_, file_, path_, offset, out);
}

Try<Bytes> read_file(System& system, const Path& path, std::uint64_t limit) {
  if (path == "-") {
    return read_to_end(system, STDIN_FILENO, "standard input", limit, 0);
  }
  const Sys<int> file = system.open(path, Open::read, 0);
  if (!file) {
    return Unexpected(error_from(file.error(), path, "read"));
  }
  Try<Bytes> out = [&]() -> Try<Bytes> {
    const Sys<Stat> status = system.stat(*file);
    if (!status) {
      return Unexpected(error_from(status.error(), path, "read"));
    }
    if (status->regular && status->size > limit) {
      return Unexpected(too_large(path, bytes_text(status->size), limit));
    }
    return read_to_end(system, *file, path, limit, status->regular ? status->size : 0);
  }();
  (void)system.close(*file);
  return out;
}

} // namespace cardseal::io
