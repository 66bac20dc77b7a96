// Two trust lists compared, as JSON, schema 1.
#pragma once

#include <string>
#include <vector>

#include "seal/trust_diff.h"

namespace cardseal::view {

struct NamedList {
  const std::string& file;
  const seal::OwnerTrust& trust;
};

std::string json_of(const NamedList& before, const NamedList& after,
                    const std::vector<seal::TrustChange>& changes);

} // namespace cardseal::view
