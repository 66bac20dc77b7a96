// Findings in plain words, for screens and files.
#pragma once

#include <string>

#include "diag/finding.h"

namespace cardseal::job {

// "release.xml:16: supply of 3900 mV is above ... (state 3000 to 3600 mV ...)"
std::string spell(const Finding& finding);

// Refusals, then warnings, then notes, each under its rule, in the order in which they were found;
// ends with a line feed. Empty when there are none. Says how many of a rule are not shown.
std::string list_findings(const Findings& findings);

// "this release can be packed: 0 refusals, 2 warnings, 3 notes", or "can't be".
std::string closing_sentence(const Findings& findings);

} // namespace cardseal::job
