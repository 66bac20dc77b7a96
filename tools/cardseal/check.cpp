#include "commands.h"
#include "common.h"

#include "calculation.h"
#include "job/summary.h"
#include "release.h"
#include "view/json.h"

namespace cardseal::tool {

Ran run_check(const CheckOptions& options) {
  TRY(release, compile_release(options.release, {}, options.json));
  if (options.json) {
    say(view::json_of(release.findings, release.facts));
  } else {
    say(describe_calculation(release.facts, Formulas::left_out) +
        job::list_findings(release.findings) + job::closing_sentence(release.findings));
  }
  return release.findings.refused() ? 1 : 0;
}

} // namespace cardseal::tool
