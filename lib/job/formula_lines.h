// Formulas of a calculation made at several stations, each told once. Inside this module.
#pragma once

#include <string_view>
#include <vector>

#include "supply/quantity.h"

namespace cardseal::job {

struct FormulaLine {
  std::string_view id;
  std::string_view model; // a station's, or `all`
  std::string_view formula;
};

// Every id of the sheet that has a formula, once.
void add_formulas(const supply::Sheet& sheet, std::string_view model,
                  std::vector<FormulaLine>& lines);

// A formula that every station which has the id shares, under `all`; else one line a station.
// Sorted by id and model.
std::vector<FormulaLine> told_once(std::vector<FormulaLine> lines);

} // namespace cardseal::job
