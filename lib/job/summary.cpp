#include "job/summary.h"

#include <algorithm>

#include <fmt/format.h>

namespace cardseal::job {
namespace {

std::vector<const Rule*> rules_met(const Findings& findings, Severity severity) {
  std::vector<const Rule*> rules;
  for (const Finding& finding : findings.kept()) {
    const bool known = std::find(rules.begin(), rules.end(), finding.rule) != rules.end();
    if (findings.severity_of(*finding.rule) == severity && !known) {
      rules.push_back(finding.rule);
    }
  }
  return rules;
}

std::string list_rule(const Findings& findings, const Rule& rule) {
  std::string out =
      fmt::format("{} {}: {}\n", word_of(findings.severity_of(rule)), rule.id, rule.title);
  std::size_t shown = 0;
  for (const Finding& finding : findings.kept()) {
    if (finding.rule == &rule) {
      out += "  " + spell(finding) + "\n";
      ++shown;
    }
  }
  if (const std::size_t more = findings.count(rule) - shown; more != 0) {
    out += fmt::format("  and {} more\n", more);
  }
  return out;
}

std::string counted(std::size_t count, const char* thing) {
  return fmt::format("{} {}{}", count, thing, count == 1 ? "" : "s");
}

} // namespace

std::string spell(const Finding& finding) {
  Error error;
  error.what = escaped(finding.text);
  error.place = finding.place;
  error.hint = escaped(finding.hint);
  return describe(error);
}

std::string list_findings(const Findings& findings) {
  std::string out;
  for (const Severity severity :
       {Severity::refuse, Severity::waived, Severity::warn, Severity::note}) {
    for (const Rule* rule : rules_met(findings, severity)) {
      out += list_rule(findings, *rule);
    }
  }
  return out;
}

std::string closing_sentence(const Findings& findings) {
  const std::size_t waived = findings.count(Severity::waived);
  return fmt::format("this release {} be packed: {}, {}{}, {}",
                     findings.refused() ? "can't" : "can",
                     counted(findings.count(Severity::refuse), "refusal"),
                     waived == 0 ? "" : fmt::format("{} set aside by a deviation, ", waived),
                     counted(findings.count(Severity::warn), "warning"),
                     counted(findings.count(Severity::note), "note"));
}

} // namespace cardseal::job
