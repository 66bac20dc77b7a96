#include "state_file.h"

#include <utility>

namespace cardseal::station_check {
namespace {

constexpr std::uint64_t file_size = 2 * std::uint64_t{format::state::slot_stride};

std::uint64_t place_of(unsigned slot, std::uint32_t offset) {
  return std::uint64_t{slot} * format::state::slot_stride + offset;
}

Error size_error(const io::Path& path, std::uint64_t found) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "state-size";
  error.what = "this is no station state";
  error.place.file = path.string();
  error.found = std::to_string(found) + " bytes";
  error.expected = std::to_string(file_size) + " bytes";
  error.hint = "name the file that --enrol made";
  return error;
}

} // namespace

Try<StateFile> StateFile::open(io::System& system, const io::Path& path) {
  const auto file = system.open(path, io::Open::read_write, 0);
  if (!file) {
    Error error = io::error_from(file.error(), path, "read");
    if (error.kind == ErrorKind::no_input) {
      error.hint = "enrol the station first, with --enrol";
    }
    return Unexpected(std::move(error));
  }
  StateFile opened(system, *file);
  const auto status = system.stat(*file);
  if (!status) {
    return Unexpected(io::error_from(status.error(), path, "read"));
  }
  if (status->size != file_size) {
    return Unexpected(size_error(path, status->size));
  }
  return opened;
}

Try<StateFile> StateFile::create(io::System& system, const io::Path& path) {
  const auto file = system.open(path, io::Open::create_new, io::mode_public);
  if (!file) {
    Error error = io::error_from(file.error(), path, "create");
    error.hint = "a station's memory is never overwritten; name another file, or move this one";
    return Unexpected(std::move(error));
  }
  StateFile created(system, *file);
  if (!created.erase()) {
    (void)system.remove(path);
    Error error;
    error.kind = ErrorKind::io;
    error.code = "state-write";
    error.what = "the state file could not be written";
    error.place.file = path.string();
    error.hint = "nothing was left behind; look at the room and rights of its folder";
    return Unexpected(std::move(error));
  }
  return created;
}

StateFile::StateFile(StateFile&& other) noexcept
    : system_(other.system_), file_(std::exchange(other.file_, -1)) {}

StateFile::~StateFile() {
  if (file_ >= 0) {
    (void)system_->close(file_);
  }
}

bool StateFile::erase() const {
  const io::Bytes erased(file_size, format::state_erased);
  return write_all(0, erased) && system_->sync(file_).has_value();
}

bool StateFile::read_all(std::uint64_t offset, ByteSpan out) const {
  while (!out.empty()) {
    const auto taken = system_->read(file_, offset, out);
    if (!taken || *taken == 0) {
      return false;
    }
    offset += *taken;
    out = out.subspan(*taken);
  }
  return true;
}

bool StateFile::write_all(std::uint64_t offset, ByteView bytes) const {
  while (!bytes.empty()) {
    const auto taken = system_->write(file_, offset, bytes);
    if (!taken || *taken == 0) {
      return false;
    }
    offset += *taken;
    bytes = bytes.subspan(*taken);
  }
  return true;
}

loader::StateStorage StateFile::storage() {
  const auto read = [](void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
    return static_cast<const StateFile*>(context)->read_all(place_of(slot, offset), out);
  };
  const auto write = [](void* context, unsigned slot, std::uint32_t offset, ByteView bytes) {
    return static_cast<const StateFile*>(context)->write_all(place_of(slot, offset), bytes);
  };
  const auto sync = [](void* context) {
    const auto* self = static_cast<const StateFile*>(context);
    return self->system_->sync(self->file_).has_value();
  };
  return {this, read, write, sync};
}

} // namespace cardseal::station_check
