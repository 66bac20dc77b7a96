// All roots of an owner, from the first on, as a card carries them: a container
// (format/container.h) with the entries root/000001, root/000001.s01, ..., root/000002, ... Layout:
// lib/format/SPEC.md. Its form only; whether a root follows the one before it is for
// trust/root_rules.h to say.
#pragma once

#include "format/container_walk.h"
#include "format/root.h"

namespace cardseal::format {

inline constexpr std::size_t max_root_signatures = 8;       // of one root
inline constexpr std::uint32_t root_chain_limit = 1U << 20; // bytes
inline constexpr std::size_t root_entry_name = 15;          // characters, at most

// "root/000002" for version 2; with ".s01" for its first signature and so on.
std::string_view root_name(std::uint32_t version, std::span<char, root_entry_name> out);
std::string_view root_signature_name(std::uint32_t version, std::size_t index,
                                     std::span<char, root_entry_name> out);

struct RootExtents {
  std::uint32_t version = 0;
  Extent text;
  List<Extent, max_root_signatures> signatures; // 1 to 64 bytes each
};

class RootChain {
public:
  // `source` must outlive the chain.
  explicit RootChain(const Source& source);

  // The next root, versions 1, 2, 3 and so on; false after the last one and after a fault.
  bool next(RootExtents& out);
  // After next() said false: done, or 201 to 206 as in a package; 203 also for a chain above the
  // limit.
  Outcome outcome() const { return walk_.outcome(); }

private:
  Walk walk_;
  std::uint32_t version_ = 0;
  bool more_ = false;
};

} // namespace cardseal::format
