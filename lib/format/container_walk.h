// Walks the entries of a container (a strict ustar, format/container.h) from the front: for whoever
// knows which entries a container has. Of every byte that is no content, only the one form passes.
#pragma once

#include "base/check_switch.h"
#include "format/container.h"

namespace cardseal::format {

struct OctalField {
  std::size_t offset; // within a header
  std::size_t digits;
};
inline constexpr OctalField size_field{124, 11};

// The first fault sticks.
class Walk {
public:
  explicit Walk(const Source& source) : source_(source) {}

  bool ok() const { return outcome_.ok(); }
  Outcome outcome() const { return outcome_; }
  void fail(Fault fault) {
    if (ok() && !switched_off(fault)) {
      outcome_ = refuse(fault, header_at_);
    }
  }

  // Reads the next header and checks its form; false at the end mark or after a fault.
  bool next();
  std::string_view name() const { return {name_.data(), name_size_}; }

  // Takes the current entry's content, at most `limit` bytes of it, and steps over it.
  Extent take(std::uint32_t limit);
  void finish(); // at the end mark: exactly two zero blocks are left

private:
  bool read(std::uint32_t offset, ByteSpan out);
  bool render_matches(ByteView header);

  const Source& source_;
  std::uint32_t at_ = 0;
  std::uint32_t header_at_ = 0;
  std::uint32_t size_ = 0;
  std::array<char, entry_name_size> name_{};
  std::size_t name_size_ = 0;
  std::array<std::uint8_t, tar_block> block_{};
  Outcome outcome_{};
};

} // namespace cardseal::format
