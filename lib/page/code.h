// A machine-readable code as squares to draw. The only user of the symbol library. Inside this
// module.
#pragma once

#include <string>
#include <string_view>

#include "diag/error.h"
#include "page/page.h"

namespace cardseal::page {

struct Code {
  unsigned width = 0; // modules, without the quiet zone
  unsigned height = 0;
  std::string path; // of SVG: every dark module, the unit a module
};

Try<Code> make_code(CodeKind kind, std::string_view text);

} // namespace cardseal::page
