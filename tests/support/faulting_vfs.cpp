#include "support/faulting_vfs.h"

#include <sqlite3.h>

namespace cardseal::test {

std::function<Trap(Change)> on_change;
std::function<void(Change)> after_change;
bool really_sync = true;

namespace {

struct File { // the file below follows in the same memory
  sqlite3_file base;
  sqlite3_file* below() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

File* of(sqlite3_file* file) {
  return reinterpret_cast<File*>(file);
}

int changed(Change change, const std::function<int(const Trap&)>& work) {
  const Trap trap = on_change ? on_change(change) : Trap{};
  const int code = work(trap);
  if (after_change) {
    after_change(change);
  }
  return trap.code != SQLITE_OK ? trap.code : code;
}

int write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 at) {
  return changed(Change::write, [&](const Trap& trap) {
    const bool whole = trap.bytes >= static_cast<std::size_t>(count);
    const int part = whole ? count : static_cast<int>(trap.bytes);
    if (trap.code != SQLITE_OK && (whole || part == 0)) {
      return SQLITE_OK;
    }
    return of(file)->below()->pMethods->xWrite(of(file)->below(), bytes, part, at);
  });
}
int truncate(sqlite3_file* file, sqlite3_int64 size) {
  return changed(Change::truncate, [&](const Trap& trap) {
    return trap.code != SQLITE_OK ? SQLITE_OK
                                  : of(file)->below()->pMethods->xTruncate(of(file)->below(), size);
  });
}
int sync(sqlite3_file* file, int flags) {
  return changed(Change::sync, [&](const Trap& trap) {
    return trap.code != SQLITE_OK || !really_sync
               ? SQLITE_OK
               : of(file)->below()->pMethods->xSync(of(file)->below(), flags);
  });
}
int close(sqlite3_file* file) {
  return of(file)->below()->pMethods->xClose(of(file)->below());
}
int read(sqlite3_file* file, void* out, int count, sqlite3_int64 at) {
  return of(file)->below()->pMethods->xRead(of(file)->below(), out, count, at);
}
int size(sqlite3_file* file, sqlite3_int64* out) {
  return of(file)->below()->pMethods->xFileSize(of(file)->below(), out);
}
int lock(sqlite3_file* file, int level) {
  return of(file)->below()->pMethods->xLock(of(file)->below(), level);
}
int unlock(sqlite3_file* file, int level) {
  return of(file)->below()->pMethods->xUnlock(of(file)->below(), level);
}
int is_reserved(sqlite3_file* file, int* out) {
  return of(file)->below()->pMethods->xCheckReservedLock(of(file)->below(), out);
}
int control(sqlite3_file* file, int what, void* value) {
  return of(file)->below()->pMethods->xFileControl(of(file)->below(), what, value);
}
int sector_size(sqlite3_file* file) {
  return of(file)->below()->pMethods->xSectorSize(of(file)->below());
}
int characteristics(sqlite3_file* file) {
  return of(file)->below()->pMethods->xDeviceCharacteristics(of(file)->below());
}

// Version 1: no shared memory, no memory maps.
const sqlite3_io_methods methods = {
    1,       close,       read,    write,       truncate,        sync,    size,    lock,
    unlock,  is_reserved, control, sector_size, characteristics, nullptr, nullptr, nullptr,
    nullptr, nullptr,     nullptr};

sqlite3_vfs* below = nullptr;

int open(sqlite3_vfs*, sqlite3_filename name, sqlite3_file* file, int flags, int* out) {
  of(file)->base.pMethods = nullptr;
  const int code = below->xOpen(below, name, of(file)->below(), flags, out);
  if (code == SQLITE_OK) {
    of(file)->base.pMethods = &methods;
  }
  return code;
}
int remove(sqlite3_vfs*, const char* name, int sync_folder) {
  const Change change = sync_folder != 0 ? Change::remove : Change::remove_unsynced;
  return changed(change, [&](const Trap& trap) {
    return trap.code != SQLITE_OK ? SQLITE_OK
                                  : below->xDelete(below, name, really_sync ? sync_folder : 0);
  });
}

} // namespace

void install_faulting_vfs() {
  static sqlite3_vfs vfs;
  if (below != nullptr) {
    return;
  }
  below = sqlite3_vfs_find(nullptr);
  vfs = *below; // what is not ours is the system's
  vfs.zName = "cardseal-faulting";
  vfs.szOsFile = static_cast<int>(sizeof(File)) + below->szOsFile;
  vfs.pNext = nullptr;
  vfs.xOpen = open;
  vfs.xDelete = remove;
  sqlite3_vfs_register(&vfs, 1);
}

} // namespace cardseal::test
