// What the company file gives to a command line that does not name it.
#pragma once

#include "../cli/cli.h"

#include "company.h"

namespace cardseal::tool {

// Gives the chosen commands below `app` what they lack, and names on stderr what was given: whose
// root counts is never silent. Nothing is given that contradicts an option that is there.
void apply(const Company& company, CLI::App& app);

} // namespace cardseal::tool
