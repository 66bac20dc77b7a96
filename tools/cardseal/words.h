// What people read of packages, in plain characters.
#pragma once

#include <string>

#include "package/package.h"

namespace cardseal::tool {

// Everything the manifest and the facts say, line by line: what a signer signs.
std::string describe(const package::Package& package);
// "frost-node 2.4.1": what a signer types.
std::string release_name(const format::Manifest& manifest);
// What a sign-off allows at most.
std::string limit_words(const format::Signoff& signoff);
std::string describe_signoffs(const package::Package& package);

} // namespace cardseal::tool
