// A station's memory in a file: the two slots one after the other, written in place and synced, as
// a station's own flash memory would be. Never replaced as a whole: that would hide what a power
// cut does to a station.
#pragma once

#include "format/station_state.h"
#include "io/file.h"
#include "loader/host.h"

namespace cardseal::station_check {

class StateFile {
public:
  // An existing file of exactly two slots.
  static Try<StateFile> open(io::System& system, const io::Path& path);
  // A new one, erased; an error when there is a file of this name.
  static Try<StateFile> create(io::System& system, const io::Path& path);
  StateFile(StateFile&& other) noexcept;
  StateFile& operator=(StateFile&&) = delete;
  ~StateFile();

  // Must not outlive the file, nor the file move.
  loader::StateStorage storage();

private:
  StateFile(io::System& system, int file) : system_(&system), file_(file) {}
  bool read_all(std::uint64_t offset, ByteSpan out) const;
  bool write_all(std::uint64_t offset, ByteView bytes) const;
  bool erase() const;

  io::System* system_;
  int file_;
};

} // namespace cardseal::station_check
