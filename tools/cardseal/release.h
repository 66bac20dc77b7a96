// Reading authored files: a release, compiled for `check` and `pack`, or what several errors say.
#pragma once

#include "common.h"
#include "job/compile.h"
#include "xml/document.h"

namespace cardseal::tool {

// Where a command takes either: authored releases are named so, everything else is a package.
bool is_authored(const std::string& file);

// A person wants to see all of them: prints them but the last, which is returned. JSON takes the
// first.
Error report(const xml::Errors& errors, bool json);

// Several errors may stand in the authored files: all are printed but the last, which is returned.
Try<job::CompiledRelease> compile_release(const std::string& file, const format::Digest& owner,
                                          bool json);

} // namespace cardseal::tool
