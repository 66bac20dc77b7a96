// Whether a package is what it says of itself. That proves nothing about who made it: `judge` in
// package/package.h does, and needs the owner's root.
#pragma once

#include "package/package.h"

namespace cardseal::package {

// Image, chain, facts and documents are what the manifest names, each sign-off is about this
// manifest and its signature is of the key it names, and the container has its one form. An error
// (bad data) names the part.
Try<void> check_whole(const Package& package);

} // namespace cardseal::package
