#include <algorithm>
#include <set>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "crypto/sha256.h"
#include "page/frame.h"
#include "page/lot_parts.h"
#include "page/render.h"
#include "page/words.h"
#include "trace/trace.h"

namespace cardseal::page {
namespace {

using runlog::UnitState;

constexpr std::size_t most_units = 200; // rows of units to look for, so that the page stays small

void put_problems(Fields& page, const runlog::Account& account) {
  Fields table;
  std::size_t index = 0;
  for (const runlog::Problem& problem : account.problems) {
    Fields& row = table.add("PROBLEM");
    row.set("AT", index++);
    row.set("WHAT", problem.what);
    row.set("FILE", problem.file);
    row.set("CODE", problem.code);
  }
  if (index != 0) {
    page.add("PROBLEMS") = std::move(table);
  }
}

void put_untold(Fields& page, const LotInput& in) {
  Fields table;
  std::size_t index = 0;
  std::uint64_t units = 0;
  for (const runlog::Untold& one : in.account.untold) {
    Fields& row = table.add("UNTOLD");
    row.set("LIST", "untold");
    put_allotment(row, in.packages, one.row);
    row.set("AT", index++);
    row.set("BEGUN", one.row.begun);
    row.set("GOOD", one.row.good);
    row.show_if(one.row.spare, "SPARE");
    row.show(one.blank_log ? "BLANK" : "NOT_HERE");
    units += one.row.units;
  }
  if (index != 0) {
    page.add("UNTOLD_TABLE") = std::move(table);
    page.add("ANY_UNTOLD").set("UNTOLD_UNITS", units);
  }
}

template <class T>
void put_findings_of(Fields& table, std::string_view list, const std::vector<T>& findings) {
  std::size_t index = 0;
  for (const T& finding : findings) {
    Fields& row = table.add("FINDING");
    row.set("LIST", list);
    row.set("AT", index++);
    row.set("SENTENCE", finding.sentence);
  }
}

void put_differing(Fields& page, const runlog::Yields& yields) {
  Fields table;
  put_findings_of(table, "slots_that_differ", yields.findings);
  put_findings_of(table, "groups_that_differ", yields.groups);
  if (!table.sections().empty()) {
    page.add("FINDINGS") = std::move(table);
  }
}

void put_open_unit(Fields& table, const LotInput& in, std::size_t allotment, std::size_t index) {
  const runlog::AllotmentAccount& one = in.account.allotments[allotment];
  const runlog::OpenUnit& open = one.open[index];
  Fields& row = table.add("OPEN_UNIT");
  put_allotment(row, in.packages, one.row);
  row.set("OF", allotment);
  row.set("AT", index);
  row.set("LABEL", trace::label_of(in.packages, one.row, open.place));
  row.set("STATE", words_of("unit", open.unit.state, runlog::unit_state_words));
  row.set("SESSION", open.unit.session);
  row.set("SLOT_NUMBER", open.unit.slot);
  if (open.unit.outcome.empty()) {
    row.show("NO_OUTCOME");
  } else {
    row.add("ENDED").set("OUTCOME", open.unit.outcome);
  }
}

void put_open_units(Fields& page, const LotInput& in) {
  Fields table;
  std::size_t all = 0;
  for (std::size_t a = 0; a < in.account.allotments.size(); ++a) {
    for (std::size_t i = 0; i < in.account.allotments[a].open.size(); ++i) {
      if (++all <= most_units) {
        put_open_unit(table, in, a, i);
      }
    }
  }
  if (all > most_units) {
    table.add("MORE_OPEN").set("COUNT", all - most_units);
  }
  if (all != 0) {
    page.add("OPEN_UNITS") = std::move(table);
  }
}

void put_accounted(Fields& page, const LotInput& in) {
  Fields table;
  std::size_t index = 0;
  for (const runlog::AllotmentAccount& one : in.account.allotments) {
    Fields& row = table.add("ALLOTMENT");
    row.set("LIST", "allotments");
    put_allotment(row, in.packages, one.row);
    row.set("AT", index++);
    row.set("GOOD", one.count(UnitState::good));
    row.set("FAILED", one.count(UnitState::failed));
    row.set("IN_DOUBT", one.count(UnitState::in_doubt));
    row.set("UNUSED", one.count(UnitState::unused));
    row.show_if(one.row.spare, "SPARE");
  }
  if (index == 0) {
    page.show("NO_ALLOTMENTS");
  } else {
    page.add("ALLOTMENTS") = std::move(table);
  }
}

std::uint64_t sum_of(const runlog::Account& account, UnitState state) {
  std::uint64_t sum = 0;
  for (const runlog::AllotmentAccount& one : account.allotments) {
    sum += one.count(state);
  }
  return sum;
}

void put_sums(Fields& page, const LotInput& in) {
  std::uint64_t units = 0;
  std::set<std::string, std::less<>> orders;
  for (const runlog::AllotmentAccount& one : in.account.allotments) {
    units += one.row.units;
    orders.insert(one.row.work_order);
  }
  page.set("TITLE", orders.empty()
                        ? words_of("lot", "none")
                        : fmt::format("{} {}", words_of("lot", orders.size() == 1 ? "one" : "many"),
                                      fmt::join(orders, ", ")));
  page.set("UNITS", units);
  page.set("GOOD", sum_of(in.account, UnitState::good));
  page.set("FAILED", sum_of(in.account, UnitState::failed));
  page.set("IN_DOUBT", sum_of(in.account, UnitState::in_doubt));
  page.set("UNUSED", sum_of(in.account, UnitState::unused));
}

void put_exceptions(Fields& page, const LotInput& in) {
  put_problems(page, in.account);
  put_untold(page, in);
  put_differing(page, in.yields);
  put_open_units(page, in);
  const auto has = [&](const char* section) { return page.sections().contains(section); };
  const bool clean = !has("PROBLEMS") && !has("UNTOLD_TABLE") && !has("OPEN_UNITS");
  page.show_if(!clean, "NOT_CLEAN");
  page.show_if(clean && !has("FINDINGS"), "NO_EXCEPTIONS");
}

void put_yield(Fields& table, const runlog::Yield& yield, std::string_view list, std::size_t at) {
  const bool both = !yield.station.empty() && !yield.of.empty();
  Fields& row = table.add("YIELD");
  row.set("LIST", list);
  row.set("AT", at);
  row.set("OF", both ? fmt::format("{}, {} {}", yield.station, words_of("yield", list), yield.of)
                     : yield.station + yield.of);
  row.set("UNITS", yield.units);
  row.set("FIRST_PASS", yield.first_pass);
  row.set("FIRST_SHARE", share(yield.first_pass, yield.units));
  row.set("FIRST_LOW", per_cent(yield.first_range.low));
  row.set("FIRST_HIGH", per_cent(yield.first_range.high));
  row.set("GOOD", yield.good);
  row.set("GOOD_SHARE", share(yield.good, yield.units));
  row.set("GOOD_LOW", per_cent(yield.good_range.low));
  row.set("GOOD_HIGH", per_cent(yield.good_range.high));
}

void put_yields(Fields& page, std::string_view list, const std::vector<runlog::Yield>& yields) {
  if (yields.empty()) {
    return;
  }
  Fields& table = page.add("YIELDS");
  table.set("NAME", words_of("yields", list));
  table.set("GROUP", words_of("yield", list));
  std::size_t index = 0;
  for (const runlog::Yield& yield : yields) {
    put_yield(table, yield, list, index++);
  }
}

void put_logs(Fields& page, const runlog::Account& account) {
  std::size_t index = 0;
  for (const runlog::LogSummary& log : account.logs) {
    Fields& row = page.add("LOG");
    row.set("AT", index++);
    row.set("FILE", log.file);
    row.set("CARD", crypto::hex(log.card));
    row.set("RECORDS", log.records);
  }
}

} // namespace

std::string lot_page(const LotInput& in) {
  Fields page;
  put_sums(page, in);
  put_exceptions(page, in);
  put_accounted(page, in);
  put_lot_chart(page, in.yields);
  put_slot_charts(page, in.yields);
  put_pareto(page, in.account.failures);
  put_yields(page, "work_orders", in.yields.work_orders);
  put_yields(page, "stations", in.yields.stations);
  put_yields(page, "slots", in.yields.slots);
  put_yields(page, "sessions", in.yields.sessions);
  put_sources(page, in.sources, true);
  put_logs(page, in.account);
  put_signed_by(page, in.packages);
  put_printed_copy(page, "lot");
  return render("lot.html", page);
}

} // namespace cardseal::page
