// Manifest and facts as values, from a release and what it names. Inside this module; what does not
// fit was refused by a finding and is cut here.
#pragma once

#include "diag/finding.h"
#include "format/facts.h"
#include "job/inputs.h"

namespace cardseal::job {

format::Manifest manifest_of(const ReleaseFile& release, const Inputs& in,
                             const format::Digest& owner);

// Keeps the first hundred findings, the gravest first; counts all. Checksums are left out when the
// firmware is empty or lies outside the device.
format::Facts facts_of(const ReleaseFile& release, const Inputs& in, const format::Digest& owner,
                       const Findings& findings, std::string_view tool);

} // namespace cardseal::job
