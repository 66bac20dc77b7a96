#include "job/formula_lines.h"

#include <algorithm>
#include <tuple>

namespace cardseal::job {

void add_formulas(const supply::Sheet& sheet, std::string_view model,
                  std::vector<FormulaLine>& lines) {
  for (const supply::Quantity& quantity : sheet) {
    const bool known = std::any_of(lines.begin(), lines.end(), [&](const FormulaLine& line) {
      return line.id == quantity.id && line.model == model;
    });
    if (!quantity.formula.empty() && !known) {
      lines.push_back({quantity.id, model, quantity.formula});
    }
  }
}

std::vector<FormulaLine> told_once(std::vector<FormulaLine> lines) {
  std::vector<FormulaLine> out;
  for (const FormulaLine& line : lines) {
    const bool shared = std::all_of(lines.begin(), lines.end(), [&](const FormulaLine& other) {
      return other.id != line.id || other.formula == line.formula;
    });
    const bool told = shared && std::any_of(out.begin(), out.end(), [&](const FormulaLine& before) {
                        return before.id == line.id;
                      });
    if (!told) {
      out.push_back({line.id, shared ? std::string_view("all") : line.model, line.formula});
    }
  }
  std::sort(out.begin(), out.end(), [](const FormulaLine& a, const FormulaLine& b) {
    return std::tuple(a.id, a.model) < std::tuple(b.id, b.model);
  });
  return out;
}

} // namespace cardseal::job
