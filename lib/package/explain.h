// Why a package is believed: from the root that was compared by ear down to the bytes of the image,
// each step resting on the one before it.
#pragma once

#include <string>
#include <vector>

#include "package/package.h"

namespace cardseal::package {

struct Reason {
  const char* step;            // "root", "trust-list", "withdrawal", "sign-off", "manifest", ...
  std::string text;            // what it is
  std::string digest;          // "sha256:..." of what it vouches for, as it stands; or empty
  std::vector<std::string> by; // who signed it, "person in role, key"; or what names it
};

// For a package that `judged` found good under `root` and `trust`.
std::vector<Reason> reasons(const Package& package, const seal::OwnerRoot& root,
                            const seal::OwnerTrust& trust, const Judgement& judged);

} // namespace cardseal::package
