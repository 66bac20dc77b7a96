#include <algorithm>
#include <numeric>
#include <set>

#include "card/sheet.h"
#include "page/draw.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

void put_limit(Fields& page, std::string_view name, std::uint32_t millivolts) {
  page.set(std::string(name), card::volts(millivolts));
  page.set(std::string(name) + "_MV", millivolts);
}

void put_margin(Fields& table, const format::MarginFacts& m, std::size_t index) {
  Fields& row = table.add("MARGIN");
  row.set("AT", index);
  row.set("NAME", words_of("margin", m.id.view()));
  row.set("PHASE", words_of("phase", m.phase, format::supply_phase_words));
  row.set("MODEL", words_of("model", m.model.view()));
  row.set("STANDING", words_of("standing", m.standing, format::standing_words));
  row.set("LIMIT", quantity(m.limit, m.unit));
  row.set("LIMIT_RAW", m.limit);
  const bool holds = m.standing == format::Standing::holds;
  row.show_if(!holds, "SHORT");
  if (!m.value.present) {
    return row.show("NO_END");
  }
  Fields& value = row.add("VALUE");
  value.set("WORST", quantity(m.value.value.value, m.unit));
  value.set("WORST_RAW", m.value.value.value);
  value.set("DISTANCE", (holds ? "" : "-") + quantity(m.value.value.distance, m.unit));
  value.set("DISTANCE_RAW", (holds || m.value.value.distance == 0 ? "" : "-") +
                                std::to_string(m.value.value.distance));
}

template <class T>
void put_formula_rows(Fields& page, std::string_view section, std::span<const T> list) {
  std::size_t index = 0;
  for (const T& each : list) {
    Fields& row = page.add(section);
    row.set("AT", index++);
    row.set("ID", each.id.view());
    row.set("NAME", words_of("id", each.id.view()));
    row.set("MODEL", words_of("model", each.model.view()));
    row.set("FORMULA", each.formula.view());
  }
}

template <class T>
void put_given(Fields& row, const T& given, std::size_t index) {
  row.set("AT", index);
  row.set("ID", given.id.view());
  row.set("NAME", words_of("id", given.id.view()));
  row.set("MODEL", words_of("model", given.model.view()));
  row.set("VALUE", given.value);
}

template <class T>
void put_given_rows(Fields& page, std::string_view section, std::span<const T> list) {
  std::size_t index = 0;
  for (const T& each : list) {
    put_given(page.add(section), each, index++);
  }
}

// The one that is nearest to its limit first: what misses its limit, then by the margin's share of
// the limit, since volts, amperes and seconds stand in one table.
std::vector<std::size_t> tightest_first(const format::Facts& f) {
  const auto margins = f.margins.view();
  const auto holds = [&](std::size_t i) { return margins[i].standing == format::Standing::holds; };
  const auto share = [&](std::size_t i) { // of what holds; no value: nothing is left
    const format::MarginFacts& m = margins[i];
    const std::uint64_t distance = m.value.present ? m.value.value.distance : 0;
    return static_cast<double>(distance) / static_cast<double>(std::max<std::uint64_t>(m.limit, 1));
  };
  std::vector<std::size_t> out(margins.size());
  std::iota(out.begin(), out.end(), std::size_t{0});
  std::stable_sort(out.begin(), out.end(), [&](std::size_t a, std::size_t b) {
    return holds(a) != holds(b) ? holds(b) : holds(a) ? share(a) < share(b) : share(a) > share(b);
  });
  return out;
}

// A formula is the same in most phases, and stands once for them.
void put_margin_formulas(Fields& page, const format::Facts& f) {
  std::set<std::pair<std::string_view, std::string_view>> told;
  std::size_t index = 0;
  for (const format::MarginFacts& m : f.margins.view()) {
    const std::size_t at = index++;
    if (told.emplace(m.id.view(), m.formula.view()).second) {
      Fields& row = page.add("MARGIN_FORMULA");
      row.set("AT", at);
      row.set("NAME", words_of("margin", m.id.view()));
      row.set("FORMULA", m.formula.view());
    }
  }
}

} // namespace

void put_supply(Fields& page, const package::Package& package) {
  const format::Facts& f = package.facts;
  put_limit(page, "SUPPLY", package.manifest.supply_mv);
  put_limit(page, "DEVICE_LOW", f.supply.device_low);
  put_limit(page, "DEVICE_HIGH", f.supply.device_high);
  put_limit(page, "DEVICE_MOST", f.supply.device_absolute_max);
  put_limit(page, "BOARD_LOW", f.supply.board_low);
  put_limit(page, "BOARD_HIGH", f.supply.board_high);
  put_cautions(page, package);
  put_bands(page, f);
  if (f.margins.count == 0) {
    return page.show("NO_MARGINS");
  }
  Fields& table = page.add("MARGINS");
  for (const std::size_t at : tightest_first(f)) {
    put_margin(table, f.margins.view()[at], at);
  }
}

void put_formulas(Fields& page, const format::Facts& f) {
  put_margin_formulas(page, f);
  put_formula_rows(page, "SUPPLY_FORMULA", f.supply_formulas.view());
  put_formula_rows(page, "CYCLE_FORMULA", f.cycle_formulas.view());
  put_given_rows(page, "CYCLE_INPUT", f.cycle_inputs.view());
  std::size_t index = 0;
  for (const format::SupplyInput& s : f.supply_inputs.view()) {
    Fields& row = page.add("SUPPLY_INPUT");
    put_given(row, s, index++);
    row.set("PHASE", words_of("phase", s.phase, format::supply_phase_words));
  }
}

} // namespace cardseal::page
