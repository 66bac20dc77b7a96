#include "calculation.h"

#include <fmt/format.h>

#include "card/sheet.h"
#include "common.h"

namespace cardseal::tool {
namespace {

template <class E, std::size_t N>
std::string_view word(E value, const std::array<std::string_view, N>& words) {
  return words[static_cast<std::size_t>(value)];
}

std::string spell(std::uint64_t value, format::MarginUnit unit) {
  constexpr std::array<std::string_view, 3> names{"mV", "mA", "ms"};
  return card::thousandths(value) + " " + std::string(word(unit, names));
}

void put_margin(std::string& out, const format::MarginFacts& m, Formulas formulas) {
  const std::string value = m.value.present ? spell(m.value.value.value, m.unit) : "no end";
  const char* const sign = m.standing == format::Standing::holds ? "" : "-"; // short by so much
  const std::string margin = m.value.present ? sign + spell(m.value.value.distance, m.unit) : "-";
  out += fmt::format("  {:<21}{:<12}{:>12}{:>12}{:>12}  {}", m.id.view(),
                     word(m.phase, format::supply_phase_words), value, spell(m.limit, m.unit),
                     margin, word(m.standing, format::standing_words));
  // With its formula a margin has two lines, so that it fits on a narrow terminal.
  out +=
      formulas == Formulas::shown
          ? fmt::format("\n      at {}: margin = {}\n", m.model.view(), escaped(m.formula.view()))
          : fmt::format("{:{}}{}\n", "", 7 - word(m.standing, format::standing_words).size(),
                        m.model.view());
}

void put_margins(std::string& out, const format::Facts& f, Formulas formulas) {
  if (f.margins.count == 0) {
    return;
  }
  out += "supply at the worst\n";
  out += fmt::format("  {:<21}{:<12}{:>12}{:>12}{:>12}{}\n", "limit of", "phase", "worst", "limit",
                     "margin", formulas == Formulas::shown ? "" : "         worst at");
  for (const format::MarginFacts& m : f.margins.view()) {
    put_margin(out, m, formulas);
  }
}

// Where a formula or value is not every station's.
std::string at(const format::Id& model) {
  return model.view() == "all" ? "" : fmt::format("  (at {})", model.view());
}

void put_formulas(std::string& out, const format::Facts& f) {
  if (f.supply_formulas.count == 0) {
    return;
  }
  out += "how the supply follows\n";
  for (const format::SupplyFormula& s : f.supply_formulas.view()) {
    out += fmt::format("  {:<24}= {}{}\n", s.id.view(), escaped(s.formula.view()), at(s.model));
  }
  out += "from\n";
  for (const format::SupplyInput& s : f.supply_inputs.view()) {
    out += fmt::format("  {:<24}= {}  ({}, {})\n", s.id.view(), s.value,
                       word(s.phase, format::supply_phase_words), s.model.view());
  }
}

void put_steps(std::string& out, const format::Facts& f) {
  out += "order of work\n";
  for (const format::WorkStep& s : f.work_steps.view()) {
    out += fmt::format("  {:>2} {:<24}{}\n", s.index, escaped(s.name.view()),
                       escaped(s.reason.view()));
  }
}

std::string seconds(std::uint64_t us) {
  return fmt::format("{}.{} s", us / 1'000'000, us / 100'000 % 10);
}

// In per cent, down to thousandths: 980000 is 98 %.
std::string per_cent(std::uint32_t ppm) {
  return card::thousandths(ppm / 10) + " %";
}

void put_time_formulas(std::string& out, const format::Facts& f) {
  for (const format::CycleFormula& c : f.cycle_formulas.view()) {
    out += fmt::format("      {:<22}= {}{}\n", c.id.view(), escaped(c.formula.view()), at(c.model));
  }
  for (const format::CycleInput& c : f.cycle_inputs.view()) {
    out += fmt::format("      {:<22}= {}{}\n", c.id.view(), c.value, at(c.model));
  }
}

void put_cycles(std::string& out, const format::Facts& f, Formulas formulas) {
  if (f.cycles.count == 0) {
    return;
  }
  out += fmt::format(
      "time, by the longest times of the profiles, for {} good boards\nat a yield of {}, "
      "the slowest board {} over the others, {} s to set up\n",
      f.lot.good_boards, per_cent(f.lot.yield_ppm), per_cent(f.lot.slowest_ppm), f.lot.set_up_s);
  for (const format::CycleFacts& c : f.cycles.view()) {
    out += fmt::format("  {:<18}a board {}, a cycle of {} {}, {} boards {} min\n", c.model.view(),
                       seconds(c.board_us), c.slots, seconds(c.cycle_us), c.boards,
                       (c.lot_us + 59'999'999) / 60'000'000);
  }
  for (const format::CycleFormula& c : f.cycle_formulas.view()) {
    if (c.id.view() == "cycle-us" && formulas == Formulas::left_out) {
      out += fmt::format("      cycle = {}{}\n", escaped(c.formula.view()), at(c.model));
    }
  }
  if (formulas == Formulas::shown) {
    put_time_formulas(out, f);
  }
}

void put_panel(std::string& out, const format::Facts& f) {
  if (f.panel.count == 0) {
    return;
  }
  out += "panel\n ";
  for (const format::PanelPlace& p : f.panel.view()) {
    out += fmt::format(" slot {}: {}", p.slot, escaped(p.position.view()));
    out += &p == &f.panel.view().back() ? "\n" : ",";
  }
}

} // namespace

std::string describe_calculation(const format::Facts& facts, Formulas formulas) {
  std::string out;
  put_margins(out, facts, formulas);
  if (formulas == Formulas::shown) {
    put_formulas(out, facts);
  }
  put_steps(out, facts);
  put_panel(out, facts);
  put_cycles(out, facts, formulas);
  return out;
}

} // namespace cardseal::tool
