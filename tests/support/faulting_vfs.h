// SQLite's own door to the operating system, with a trap in it: every call that changes a file is
// counted and shown to a function first, which may let it fail, tear it, or never return.
#pragma once

#include <cstddef>
#include <functional>

namespace cardseal::test {

enum class Change : unsigned char {
  write,
  truncate,
  sync,
  remove, // of a file; its folder is synced with it
  remove_unsynced,
};

struct Trap {
  int code = 0;                                     // SQLite's result code; 0: go on
  std::size_t bytes = static_cast<std::size_t>(-1); // of a write that is done all the same
};

// From now on for every database of the process; `on_change` may be replaced at any time.
void install_faulting_vfs();
extern std::function<Trap(Change)> on_change;
extern std::function<void(Change)> after_change;
// Off: syncs are seen and not done. For tests in which no power fails.
extern bool really_sync;

} // namespace cardseal::test
