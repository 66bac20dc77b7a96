#include "diag/finding.h"

#include <algorithm>

namespace cardseal {

std::string_view word_of(Severity severity) {
  switch (severity) {
  case Severity::note:
    return "note";
  case Severity::warn:
    return "warn";
  case Severity::waived:
    return "waived";
  case Severity::refuse:
    return "refuse";
  }
  return "refuse";
}

void Findings::add(const Rule& rule, std::string text, Place place, std::string hint) {
  auto tally = std::find_if(tallies_.begin(), tallies_.end(),
                            [&](const Tally& each) { return each.rule == &rule; });
  if (tally == tallies_.end()) {
    tally = tallies_.insert(tallies_.end(), Tally{&rule, 0});
  }
  if (++tally->count <= kept_a_rule) {
    kept_.push_back({&rule, std::move(text), std::move(place), std::move(hint)});
  }
}

void Findings::waive(const Rule& rule) {
  if (rule.waivable) {
    waived_.push_back(&rule);
  }
}

Severity Findings::severity_of(const Rule& rule) const {
  const bool aside = std::find(waived_.begin(), waived_.end(), &rule) != waived_.end();
  return aside ? Severity::waived : rule.severity;
}

std::size_t Findings::count(const Rule& rule) const {
  for (const Tally& tally : tallies_) {
    if (tally.rule == &rule) {
      return tally.count;
    }
  }
  return 0;
}

std::size_t Findings::count(Severity severity) const {
  std::size_t total = 0;
  for (const Tally& tally : tallies_) {
    total += severity_of(*tally.rule) == severity ? tally.count : 0;
  }
  return total;
}

} // namespace cardseal
