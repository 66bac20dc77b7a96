// Two trust lists or two roots compared, as JSON, schema 1.
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

struct NamedRoot {
  const std::string& file;
  const seal::RootDraft& draft;
};

std::string json_of(const NamedRoot& before, const NamedRoot& after,
                    const std::vector<seal::RootChange>& changes);

} // namespace cardseal::view
