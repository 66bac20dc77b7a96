// The limits of a package's deviations, which hold for all of its cards together.
#pragma once

#include <cstdint>

#include "package/package.h"

namespace cardseal::package {

// Refuses (`deviation-ended`) when one of them has ended at `now`. Whose clock that is, the caller
// answers for: stations have none.
Try<void> check_deviations_at(const Package& package, const Utc& now);

// `made`: boards of this very package: one that is sealed again is signed again, and counts anew.
// Refuses (`deviation-used-up`) when `made` boards and `more` are over what one of them allows.
Try<void> check_deviation_boards(const Package& package, std::uint64_t made, std::uint64_t more);

// Refuses (`deviation-not-approved`) a package that rests on one and that nobody signed in role
// quality: an engineering package's own role does not set aside what quality may.
Try<void> check_deviations_approved(const Package& package);

} // namespace cardseal::package
