#include "commands.h"
#include "common.h"

#include "job/summary.h"
#include "release.h"
#include "view/json.h"

namespace cardseal::tool {

Ran run_check(const CheckOptions& options) {
  TRY(release, compile_release(options.release, {}, options.json));
  say(options.json ? view::json_of(release.findings) : job::summary(release.findings));
  return release.findings.refused() ? 1 : 0;
}

} // namespace cardseal::tool
