// The packages that `card make` puts on each card, with what is stated of each.
#pragma once

#include "card/card_set.h"
#include "common.h"

namespace cardseal::tool {

// At most as many as a card's index holds.
Try<std::vector<package::Package>> read_card_packages(const CardMakeOptions& options);

// `packages` outlive the result, and each is judged. An option
// is stated once for all packages, or once for each, in their order; a date code goes to those
// whose serials have one.
Try<std::vector<card::SetJob>> to_jobs(const CardMakeOptions& options, const Owner& owner,
                                       const std::vector<package::Package>& packages);

// The lines of `volume` and of every file that is planned.
void print_plan(const fat32::VolumePlan& plan);

} // namespace cardseal::tool
