#include "io/faulting.h"

namespace cardseal::io {

bool FaultingSystem::fails_now() {
  const bool hit = fail_at_.has_value() && calls_ == *fail_at_;
  ++calls_;
  down_ = down_ || (hit && stay_down_);
  return hit || down_;
}

Sys<int> FaultingSystem::open(const Path& path, Open how, std::uint32_t mode) {
  if (how == Open::create_new && fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.open(path, how, mode);
}

Sys<void> FaultingSystem::close(int file) {
  return below_.close(file);
}

Sys<std::size_t> FaultingSystem::read(int file, std::uint64_t offset, ByteSpan out) {
  return below_.read(file, offset, out);
}

Sys<std::size_t> FaultingSystem::read_stream(int file, ByteSpan out) {
  return below_.read_stream(file, out);
}

Sys<std::size_t> FaultingSystem::write(int file, std::uint64_t offset, ByteView bytes) {
  const bool was_down = down_;
  if (!fails_now()) {
    return below_.write(file, offset, bytes);
  }
  const std::size_t stored = was_down ? 0 : torn(bytes.size());
  if (stored != 0) {
    (void)below_.write(file, offset, bytes.first(stored));
  }
  return Unexpected(Errno{errno_});
}

Sys<std::size_t> FaultingSystem::write_stream(int file, ByteView bytes) {
  const bool was_down = down_;
  if (!fails_now()) {
    return below_.write_stream(file, bytes);
  }
  const std::size_t stored = was_down ? 0 : torn(bytes.size());
  if (stored != 0) {
    (void)below_.write_stream(file, bytes.first(stored));
  }
  return Unexpected(Errno{errno_});
}

Sys<void> FaultingSystem::resize(int file, std::uint64_t size) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.resize(file, size);
}

Sys<void> FaultingSystem::sync(int file) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.sync(file);
}

Sys<void> FaultingSystem::forget_cached(int file) {
  return below_.forget_cached(file);
}

Sys<void> FaultingSystem::sync_folder(const Path& folder) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.sync_folder(folder);
}

Sys<void> FaultingSystem::rename(const Path& from, const Path& to, bool replace) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.rename(from, to, replace);
}

Sys<void> FaultingSystem::remove(const Path& path) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.remove(path);
}

Sys<void> FaultingSystem::make_folder(const Path& path) {
  if (fails_now()) {
    return Unexpected(Errno{errno_});
  }
  return below_.make_folder(path);
}

Sys<Stat> FaultingSystem::stat(const Path& path) {
  return below_.stat(path);
}

Sys<Stat> FaultingSystem::stat(int file) {
  return below_.stat(file);
}

} // namespace cardseal::io
