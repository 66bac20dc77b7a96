// Reading and compiling a release, for `check` and `pack`.
#pragma once

#include "common.h"
#include "job/compile.h"

namespace cardseal::tool {

// Several errors may stand in the authored files: all are printed but the last, which is returned.
Try<job::CompiledRelease> compile_release(const std::string& file, const format::Digest& owner,
                                          bool json);

} // namespace cardseal::tool
