// A System that passes everything on to another one and makes chosen calls fail, for tests.
// Part of the product so that every module's tests use the same one.
#pragma once

#include "io/system.h"

namespace cardseal::io {

class FaultingSystem final : public System {
public:
  explicit FaultingSystem(System& below) : below_(below) {}

  // The call number `nth` (from 0, counting every call that can change a file or make a change
  // last: creating, writing, resizing, syncing, renaming, removing) fails with `number`.
  void fail_at(std::uint64_t nth, int number) {
    fail_at_ = nth;
    errno_ = number;
  }
  // From then on every changing call fails too, as after a power cut.
  void stay_down(bool on) { stay_down_ = on; }
  // The failing write stores this many of its bytes first (a torn write).
  void tear_after(std::size_t bytes) { torn_bytes_ = bytes; }
  std::uint64_t changing_calls() const { return calls_; }

  Sys<int> open(const Path& path, Open how, std::uint32_t mode) override;
  Sys<void> close(int file) override;
  Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) override;
  Sys<std::size_t> read_stream(int file, ByteSpan out) override;
  Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) override;
  Sys<std::size_t> write_stream(int file, ByteView bytes) override;
  Sys<void> resize(int file, std::uint64_t size) override;
  Sys<void> sync(int file) override;
  Sys<void> forget_cached(int file) override;
  std::uint64_t next_data(int file, std::uint64_t offset) override {
    return below_.next_data(file, offset);
  }
  Sys<void> sync_folder(const Path& folder) override;
  Sys<void> rename(const Path& from, const Path& to, bool replace) override;
  Sys<void> remove(const Path& path) override;
  Sys<void> make_folder(const Path& path) override;
  Sys<Stat> stat(const Path& path) override;
  Sys<Stat> stat(int file) override;

private:
  bool fails_now();
  std::size_t torn(std::size_t size) const { return torn_bytes_ < size ? torn_bytes_ : size; }

  System& below_;
  std::optional<std::uint64_t> fail_at_;
  int errno_ = 0;
  bool stay_down_ = false;
  bool down_ = false;
  std::size_t torn_bytes_ = 0;
  std::uint64_t calls_ = 0;
};

} // namespace cardseal::io
