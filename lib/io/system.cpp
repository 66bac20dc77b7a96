#include "io/system.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <limits>

#include <fcntl.h>
#include <linux/fs.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/posix.h"

namespace cardseal::io {

namespace {

Unexpected<Errno> failed() {
  return Unexpected(Errno{errno});
}

// Runs a call again as long as a signal interrupts it.
template <class Call>
auto retried(Call call) {
  auto result = call();
  while (result < 0 && errno == EINTR) {
    result = call();
  }
  return result;
}

Sys<void> done_or_failed(int result) {
  if (result < 0) {
    return failed();
  }
  return {};
}

Sys<std::size_t> count_or_failed(ssize_t result) {
  if (result < 0) {
    return failed();
  }
  return static_cast<std::size_t>(result);
}

// False when the system's signed offset can't hold where the bytes would end.
bool fits(std::uint64_t offset, std::uint64_t size) {
  constexpr auto most = static_cast<std::uint64_t>(std::numeric_limits<off_t>::max());
  return offset <= most && size <= most - offset;
}

Stat from_system(const struct ::stat& status) {
  Stat out;
  out.size = static_cast<std::uint64_t>(status.st_size);
  out.regular = S_ISREG(status.st_mode);
  out.folder = S_ISDIR(status.st_mode);
  out.mode = status.st_mode & 07777U;
  out.allocated = static_cast<std::uint64_t>(status.st_blocks) * 512; // stat(2): units of 512
  return out;
}

class RealSystem final : public System {
public:
  Sys<int> open(const Path& path, Open how, std::uint32_t mode) override;
  Sys<void> close(int file) override;
  Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) override;
  Sys<std::size_t> read_stream(int file, ByteSpan out) override;
  Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) override;
  Sys<std::size_t> write_stream(int file, ByteView bytes) override;
  Sys<void> resize(int file, std::uint64_t size) override;
  Sys<void> sync(int file) override;
  Sys<void> forget_cached(int file) override;
  std::uint64_t next_data(int file, std::uint64_t offset) override;
  Sys<void> sync_folder(const Path& folder) override;
  Sys<void> rename(const Path& from, const Path& to, bool replace) override;
  Sys<void> remove(const Path& path) override;
  Sys<void> make_folder(const Path& path) override;
  Sys<Stat> stat(const Path& path) override;
  Sys<Stat> stat(int file) override;
};

int flags_of(Open how) {
  switch (how) {
  case Open::read:
    return O_RDONLY | O_CLOEXEC | O_NOCTTY;
  case Open::create_new:
    return O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC;
  case Open::read_write:
    return O_RDWR | O_CLOEXEC | O_NOCTTY;
  case Open::device: // O_EXCL without O_CREAT is open(2)'s lock of a block device
    return O_RDWR | O_EXCL | O_CLOEXEC | O_NOCTTY;
  }
  return O_RDONLY;
}

Sys<int> RealSystem::open(const Path& path, Open how, std::uint32_t mode) {
  const int file = retried([&] { return ::open(path.c_str(), flags_of(how), mode); });
  if (file < 0) {
    return failed();
  }
  // A umask like 0277 would leave the owner of a secret unable to replace it.
  if (how == Open::create_new && (mode & 077U) == 0 && ::fchmod(file, mode) != 0) {
    const Errno number{errno};
    ::close(file);
    ::unlink(path.c_str());
    return Unexpected(number);
  }
  return file;
}

// After EINTR the descriptor is gone on Linux: closing again could hit somebody else's.
Sys<void> RealSystem::close(int file) {
  if (::close(file) != 0 && errno != EINTR) {
    return failed();
  }
  return {};
}

Sys<std::size_t> RealSystem::read(int file, std::uint64_t offset, ByteSpan out) {
  if (!fits(offset, out.size())) {
    return Unexpected(Errno{EOVERFLOW});
  }
  return count_or_failed(
      retried([&] { return ::pread(file, out.data(), out.size(), static_cast<off_t>(offset)); }));
}

Sys<std::size_t> RealSystem::read_stream(int file, ByteSpan out) {
  return count_or_failed(retried([&] { return ::read(file, out.data(), out.size()); }));
}

Sys<std::size_t> RealSystem::write(int file, std::uint64_t offset, ByteView bytes) {
  if (!fits(offset, bytes.size())) {
    return Unexpected(Errno{EFBIG});
  }
  return count_or_failed(retried(
      [&] { return ::pwrite(file, bytes.data(), bytes.size(), static_cast<off_t>(offset)); }));
}

Sys<std::size_t> RealSystem::write_stream(int file, ByteView bytes) {
  return count_or_failed(retried([&] { return ::write(file, bytes.data(), bytes.size()); }));
}

Sys<void> RealSystem::resize(int file, std::uint64_t size) {
  if (!fits(size, 0)) {
    return Unexpected(Errno{EFBIG});
  }
  return done_or_failed(retried([&] { return ::ftruncate(file, static_cast<off_t>(size)); }));
}

Sys<void> RealSystem::sync(int file) {
  return done_or_failed(retried([&] { return ::fsync(file); }));
}

Sys<void> RealSystem::forget_cached(int file) {
  (void)::ioctl(file, BLKFLSBUF, 0); // not a block device, or not allowed: the next step remains
  const int number = ::posix_fadvise(file, 0, 0, POSIX_FADV_DONTNEED);
  if (number != 0) {
    return Unexpected(Errno{number});
  }
  return {};
}

std::uint64_t RealSystem::next_data(int file, std::uint64_t offset) {
  const off_t at = ::lseek(file, static_cast<off_t>(offset), SEEK_DATA);
  if (at >= 0) {
    return static_cast<std::uint64_t>(at);
  }
  const off_t end = errno == ENXIO ? ::lseek(file, 0, SEEK_END) : -1;
  return end < 0 ? offset : std::max(offset, static_cast<std::uint64_t>(end));
}

Sys<void> RealSystem::sync_folder(const Path& folder) {
  const int file =
      retried([&] { return ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); });
  if (file < 0) {
    return failed();
  }
  const int result = retried([&] { return ::fsync(file); });
  const Errno number{errno};
  ::close(file);
  // EINVAL: this file system can't sync folders, so there is nothing more to be done for it.
  if (result != 0 && number.number != EINVAL) {
    return Unexpected(number);
  }
  return {};
}

Sys<void> RealSystem::rename(const Path& from, const Path& to, bool replace) {
  if (replace) {
    return done_or_failed(::rename(from.c_str(), to.c_str()));
  }
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) {
    return {};
  }
  if (errno != EINVAL && errno != ENOSYS) {
    return failed();
  }
  return rename_by_link(from, to);
}

Sys<void> RealSystem::remove(const Path& path) {
  return done_or_failed(::unlink(path.c_str()));
}

Sys<void> RealSystem::make_folder(const Path& path) {
  return done_or_failed(::mkdir(path.c_str(), 0777));
}

Sys<Stat> RealSystem::stat(const Path& path) {
  struct ::stat status {};
  if (::stat(path.c_str(), &status) != 0) {
    return failed();
  }
  return from_system(status);
}

Sys<Stat> RealSystem::stat(int file) {
  struct ::stat status {};
  if (::fstat(file, &status) != 0) {
    return failed();
  }
  Stat out = from_system(status);
  if (S_ISBLK(status.st_mode)) { // a device's size is where its end is
    const off_t end = ::lseek(file, 0, SEEK_END);
    if (end < 0) {
      return failed();
    }
    out.size = static_cast<std::uint64_t>(end);
  }
  return out;
}

} // namespace

Sys<void> rename_by_link(const Path& from, const Path& to) {
  if (::link(from.c_str(), to.c_str()) != 0) {
    return failed();
  }
  if (::unlink(from.c_str()) != 0) {
    const Errno number{errno};
    ::unlink(to.c_str());
    return Unexpected(number);
  }
  return {};
}

System& real_system() {
  static RealSystem system;
  return system;
}

} // namespace cardseal::io
