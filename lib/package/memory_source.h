// A package in memory as admission reads it.
#pragma once

#include <algorithm>

#include "format/source.h"

namespace cardseal::package {

// The bytes must outlive this, and this the source it gives; less than 4 GiB.
class MemorySource {
public:
  explicit MemorySource(ByteView bytes) : bytes_(bytes) {}

  format::Source source() {
    const auto read = [](void* context, std::uint32_t offset, ByteSpan out) {
      const ByteView all = static_cast<const MemorySource*>(context)->bytes_;
      std::copy_n(all.begin() + offset, out.size(), out.begin());
      return done;
    };
    return {this, read, static_cast<std::uint32_t>(bytes_.size())};
  }

private:
  ByteView bytes_;
};

} // namespace cardseal::package
