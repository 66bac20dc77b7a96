// Rules about a release, and what they found. A rule is one constexpr object in the module that
// checks it; `all_rules` of the tool lists every one once (tests compare code, pages and cases).
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "diag/error.h"

namespace cardseal {

enum class Severity : std::uint8_t {
  note,   // worth knowing
  warn,   // look again; does not stop anything
  waived, // would refuse, and a deviation sets it aside; of a finding, never of a rule
  refuse, // the release can't be packed
};

std::string_view word_of(Severity severity);

struct Rule {
  std::string_view id; // lower case words joined by '-'; also the name of its page and test folder
  Severity severity;
  bool waivable; // may a deviation signed by quality set it aside?
  std::string_view title;
};

constexpr Rule refusing(std::string_view id, std::string_view title) {
  return {id, Severity::refuse, false, title};
}
// Quality may set it aside by a signed deviation.
constexpr Rule refusing_unless_waived(std::string_view id, std::string_view title) {
  return {id, Severity::refuse, true, title};
}
constexpr Rule warning(std::string_view id, std::string_view title) {
  return {id, Severity::warn, false, title};
}
constexpr Rule noting(std::string_view id, std::string_view title) {
  return {id, Severity::note, false, title};
}

struct Finding {
  const Rule* rule = nullptr;
  std::string text; // one sentence with both numbers, lower case, no full stop
  Place place;
  std::string hint;
};

// Collects everything instead of stopping at the first; keeps `kept_a_rule` of each rule, counts
// all.
class Findings {
public:
  static constexpr std::size_t kept_a_rule = 100;

  void add(const Rule& rule, std::string text, Place place = {}, std::string hint = {});
  // A deviation sets every finding of this waivable rule aside, those to come too.
  void waive(const Rule& rule);
  const std::vector<Finding>& kept() const { return kept_; }
  Severity severity_of(const Rule& rule) const; // its own, or waived
  std::size_t count(const Rule& rule) const;
  std::size_t count(Severity severity) const;
  bool refused() const { return count(Severity::refuse) != 0; }

private:
  struct Tally {
    const Rule* rule;
    std::size_t count;
  };
  std::vector<Finding> kept_;
  std::vector<Tally> tallies_;
  std::vector<const Rule*> waived_;
};

} // namespace cardseal
