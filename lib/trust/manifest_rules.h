// Admission of a manifest: does what it says hang together, and may this product at this sequence
// be worked with at all?
#pragma once

#include "format/manifest.h"
#include "trust/list_rules.h"

namespace cardseal::trust {

Outcome judge_manifest(const format::Manifest& manifest, const format::Digest& digest,
                       bool engineering, const RootView& root, const format::TrustList& list);

// What a station remembers of the newest package of a product that it worked with.
struct ProductMark {
  format::Id product;
  std::uint32_t epoch = 0;
  std::uint64_t sequence = 0;
  format::Digest manifest{};
};

inline constexpr std::uint64_t max_jump = 1000;

// Against the mark of the same product: not older, not another package under the same number, not
// more than max_jump above (a higher epoch starts anew).
Outcome judge_mark(const format::Manifest& manifest, const format::Digest& digest,
                   const ProductMark& mark);

} // namespace cardseal::trust
