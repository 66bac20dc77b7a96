#include "io/big_buffer.h"

#include <cstdlib>
#include <new>

#include <sys/mman.h>

namespace cardseal::io {
namespace {

constexpr std::size_t huge_page = std::size_t{2} << 20;
constexpr std::uintptr_t page = 4096;

} // namespace

void* resize_memory(void* old, std::size_t bytes) {
  void* const memory = std::realloc(old, bytes);
  if (memory == nullptr && bytes != 0) {
    throw std::bad_alloc();
  }
  if (bytes >= huge_page) {
    // A wish: where there are no huge pages everything works the same, only slower.
    const auto start = (reinterpret_cast<std::uintptr_t>(memory) + page - 1) & ~(page - 1);
    const auto end = (reinterpret_cast<std::uintptr_t>(memory) + bytes) & ~(page - 1);
    (void)::madvise(reinterpret_cast<void*>(start), end - start, MADV_HUGEPAGE); // NOLINT
  }
  return memory;
}

void free_memory(void* memory) {
  std::free(memory);
}

} // namespace cardseal::io
