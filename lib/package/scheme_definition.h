// What of a release decides the number and the text of an ordinal: first, step, exclusions,
// alphabet and parts. Capacity may grow, and where the bytes go may change; this may not, while
// numbers of the scheme are given.
#pragma once

#include "crypto/sha256.h"
#include "format/manifest.h"

namespace cardseal::package {

// SHA-256 of those lines of the manifest (lib/format/SPEC.md, "manifest": scheme with capacity 1,
// alphabet, excluded, parts). The manifest has a scheme.
crypto::Digest scheme_definition(const format::Manifest& manifest);

} // namespace cardseal::package
