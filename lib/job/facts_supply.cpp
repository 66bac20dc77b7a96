#include "job/facts_supply.h"

#include <algorithm>
#include <tuple>

#include "job/formula_lines.h"
#include "job/put.h"
#include "job/supply_case.h"

namespace cardseal::job {
namespace {

using supply::Margin;

struct Worst { // of all stations
  Margin margin;
  const profile::Station* station;
};

std::string_view phase_word(supply::Phase phase) {
  return supply::phase_words[static_cast<std::size_t>(phase)];
}

format::SupplyPhase sealed_phase(supply::Phase phase) {
  return static_cast<format::SupplyPhase>(phase); // the words of both are one list
}
static_assert(format::supply_phase_words == supply::phase_words);
static_assert(format::margin_unit_words == supply::unit_words);
static_assert(format::standing_words == supply::standing_words);

std::vector<Worst> worst_margins(const std::vector<SupplyCase>& cases) {
  std::vector<Worst> worst;
  for (const SupplyCase& one : cases) {
    for (const Margin& margin : one.report->margins) {
      const auto same = std::find_if(worst.begin(), worst.end(), [&](const Worst& before) {
        return before.margin.id == margin.id && before.margin.phase == margin.phase;
      });
      if (same == worst.end()) {
        worst.push_back({margin, one.station});
      } else if (is_worse(margin, same->margin)) {
        *same = {margin, one.station};
      }
    }
  }
  std::sort(worst.begin(), worst.end(), [](const Worst& a, const Worst& b) {
    return std::tuple(a.margin.id, phase_word(a.margin.phase)) <
           std::tuple(b.margin.id, phase_word(b.margin.phase));
  });
  return worst;
}

void put_margins(const std::vector<SupplyCase>& cases, bool own, format::Facts& out) {
  for (const Worst& worst : worst_margins(cases)) {
    const Margin& margin = worst.margin;
    format::MarginFacts fact;
    fact.id = put<format::Text<24>>(margin.id);
    fact.phase = sealed_phase(margin.phase);
    // No station enters what a board makes of its own supply.
    const bool any = own && !margin.id.starts_with("signal-");
    fact.model = put<format::Id>(any ? std::string_view("all") : worst.station->id);
    fact.standing = static_cast<format::Standing>(margin.standing);
    fact.unit = static_cast<format::MarginUnit>(margin.unit);
    fact.limit = static_cast<std::uint64_t>(margin.limit);
    fact.formula = put<format::Text<96>>(margin.formula);
    if (margin.value && margin.margin) {
      const std::int64_t distance = *margin.margin < 0 ? -*margin.margin : *margin.margin;
      fact.value.set(
          {static_cast<std::uint64_t>(*margin.value), static_cast<std::uint64_t>(distance)});
    }
    out.margins.add(fact);
  }
}

// What differs from station to station; everything else given is told once, under `all`.
bool is_of_station(std::string_view id) {
  constexpr std::string_view ids[] = {"tolerance-mv",  "tolerance-ppm", "slots-on",
                                      "slot-limit-ua", "all-limit-ua",  "shared-return-uohm",
                                      "settle-us",     "wait-us",       "bleed-ohm",
                                      "removal-mv",    "signal-set-mv", "signal-tolerance-mv"};
  return std::find(std::begin(ids), std::end(ids), id) != std::end(ids);
}

void put_inputs(const std::vector<SupplyCase>& cases, format::Facts& out) {
  struct Line {
    supply::Given given;
    std::string_view model;
  };
  std::vector<Line> found;
  const auto is_told = [&](const supply::Given& given) {
    return std::any_of(found.begin(), found.end(), [&](const Line& line) {
      return line.given.id == given.id && line.given.phase == given.phase;
    });
  };
  for (const SupplyCase& one : cases) {
    for (const supply::Given& given : one.givens) {
      if (is_of_station(given.id)) {
        found.push_back({given, one.station->id});
      } else if (!is_told(given)) { // a station may use one that another does not
        found.push_back({given, "all"});
      }
    }
  }
  std::sort(found.begin(), found.end(), [](const Line& a, const Line& b) {
    return std::tuple(a.given.id, phase_word(a.given.phase), a.model) <
           std::tuple(b.given.id, phase_word(b.given.phase), b.model);
  });
  for (const Line& line : found) {
    out.supply_inputs.add({put<format::Text<24>>(line.given.id), sealed_phase(line.given.phase),
                           put<format::Id>(line.model),
                           static_cast<std::uint32_t>(line.given.value)});
  }
}

void put_formulas(const std::vector<SupplyCase>& cases, format::Facts& out) {
  std::vector<FormulaLine> lines;
  for (const SupplyCase& one : cases) {
    add_formulas(one.report->sheet, one.station->id, lines);
  }
  for (const FormulaLine& line : told_once(std::move(lines))) {
    out.supply_formulas.add({put<format::Text<24>>(line.id), put<format::Id>(line.model),
                             put<format::Text<160>>(line.formula)});
  }
}

} // namespace

void put_supply_calculation(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  std::vector<SupplyCase> cases = supply_cases(release, in);
  const bool calculated = std::all_of(cases.begin(), cases.end(),
                                      [](const auto& one) { return one.report.has_value(); });
  if (cases.empty() || !calculated) {
    return;
  }
  put_inputs(cases, out);
  put_formulas(cases, out);
  put_margins(cases, release.supply.source == format::SupplySource::board, out);
}

} // namespace cardseal::job
