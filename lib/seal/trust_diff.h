// What differs between two trust lists, a plain line each.
#pragma once

#include <string>
#include <vector>

#include "seal/owner.h"

namespace cardseal::seal {

// The order in which changes are told: what no successor may do; what lets more through than
// before; what lets less through; the rest.
enum class Change : std::uint8_t {
  owner,
  withdrawal_lifted,
  key_restored,
  window_cut, // its numbers may have been given
  product_lowered,
  key_removed,     // it could come back as another's, or active
  product_removed, // it could come back with a lower sequence
  sequence_shared,
  sequence_back,
  last_forbidden = sequence_back,
  key_changed,
  threshold_lowered,
  other_predecessor,
  key_added,
  product_added,
  window_added,
  key_revoked,
  package_withdrawn,
  threshold_raised,
  product_raised,
  threshold_stated,
  person,
  root_version,
  sequence,
  previous,
  time,
};

// As scripts know them.
inline constexpr std::array<std::string_view, 25> change_words{
    "owner",
    "withdrawal-lifted",
    "key-restored",
    "window-cut",
    "product-lowered",
    "key-removed",
    "product-removed",
    "sequence-shared",
    "sequence-back",
    "key-changed",
    "threshold-lowered",
    "other-predecessor",
    "key-added",
    "product-added",
    "window-added",
    "key-revoked",
    "package-withdrawn",
    "threshold-raised",
    "product-raised",
    "threshold-stated",
    "person",
    "root-version",
    "sequence",
    "previous",
    "time",
};

struct TrustChange {
  Change what = Change::time;
  std::string text;
  bool allowed() const { return what > Change::last_forbidden; }
};

// In the order of `Change`. Empty exactly when both lists have the same text.
std::vector<TrustChange> changes(const OwnerTrust& before, const OwnerTrust& after);

// The list that an owner's first list is compared with: it lets nothing through.
OwnerTrust nothing_before(const OwnerTrust& first);

// Refuses a list that may not take the place of `before`; names the first change that forbids it.
Try<void> check_follows(const OwnerTrust& before, const OwnerTrust& after);

} // namespace cardseal::seal
