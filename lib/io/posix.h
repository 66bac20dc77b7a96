// Pieces of the real System that tests reach directly.
#pragma once

#include "io/system.h"

namespace cardseal::io {

// rename without replacing, for file systems that don't know RENAME_NOREPLACE: a hard link fails
// when the name is taken.
Sys<void> rename_by_link(const Path& from, const Path& to);

} // namespace cardseal::io
