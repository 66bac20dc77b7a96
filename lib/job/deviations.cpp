// What quality may set aside, and is asked to: a deviation names one rule, and stands in the facts
// that the sign-offs cover.
#include <algorithm>

#include <fmt/format.h>

#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

const Rule* find_rule(std::string_view id) {
  const auto at = std::find_if(std::begin(all_rules), std::end(all_rules),
                               [&](const Rule* rule) { return rule->id == id; });
  return at == std::end(all_rules) ? nullptr : *at;
}

} // namespace

void apply_deviations(const ReleaseFile& release, Findings& findings) {
  for (const Deviation& deviation : release.deviations) {
    const Rule* rule = find_rule(deviation.rule);
    if (rule == nullptr || !rule->waivable) {
      findings.add(rules::deviation_barred,
                   rule == nullptr
                       ? fmt::format("deviation {} names {}, which is no rule", deviation.number,
                                     deviation.rule)
                       : fmt::format("deviation {} names {}, which {}", deviation.number,
                                     deviation.rule,
                                     rule->severity == Severity::refuse ? "nobody may set aside"
                                                                        : "refuses nothing"),
                   deviation.place, "mend what the finding says; a deviation can't help");
      continue;
    }
    if (findings.count(*rule) == 0) {
      findings.add(rules::deviation_idle,
                   fmt::format("deviation {} is for {}, which found 0 faults", deviation.number,
                               deviation.rule),
                   deviation.place, "leave it out");
    }
    findings.waive(*rule);
  }
}

} // namespace cardseal::job
