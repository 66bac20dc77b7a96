// The supply calculation of a release at each of its stations. Inside this module.
#pragma once

#include <string>
#include <vector>

#include "job/inputs.h"
#include "supply/margins.h"

namespace cardseal::job {

struct SupplyCase {
  const profile::Station* station = nullptr;
  std::vector<supply::Given> givens;
  Result<supply::Report, supply::OutOfRange> report;
};

// In the order of the release's stations. A board that supplies itself is calculated from what its
// own supply gives; stations then differ in their signals only.
std::vector<SupplyCase> supply_cases(const ReleaseFile& release, const Inputs& in);

// Never comes first, then the least margin.
bool is_worse(const supply::Margin& a, const supply::Margin& b);

supply::EntryKind entry_kind(const profile::Board& board);

// Thousandths as people write them: 3162500 is 3162.5.
std::string spell_thousandths(std::int64_t value);

// The permitted slots that the station has; at least 1.
std::uint32_t slots_on(const ReleaseFile& release, const profile::Station& station);

} // namespace cardseal::job
