#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "page/lot_parts.h"

namespace cardseal::page {
namespace {

constexpr std::uint64_t chart_row = 29; // a line of words, then the line that is drawn
constexpr std::uint64_t chart_foot = 20;

// Slots: 0 to 100 % from the left.
constexpr std::uint64_t chart_left = 12;
constexpr std::uint64_t chart_width = 328;

constexpr std::uint64_t bar_width = 360; // of the most frequent outcome

// Lots: from the chart's top down to its foot.
constexpr std::uint64_t lots_top = 10;
constexpr std::uint64_t lots_height = 176;
constexpr std::uint64_t lots_left = 40;
constexpr std::uint64_t lots_width = 310;

std::uint64_t across(double part) {
  return chart_left +
         static_cast<std::uint64_t>(std::lround(part * static_cast<double>(chart_width)));
}

void put_scale(Fields& chart, std::uint64_t height) {
  for (const unsigned percent : {0U, 25U, 50U, 75U, 100U}) {
    Fields& tick = chart.add("TICK");
    tick.set("X", across(percent / 100.0));
    tick.set("SAID", percent);
  }
  chart.set("BOTTOM", height);
  chart.set("HEIGHT", height + chart_foot);
}

void put_slot(Fields& chart, const runlog::Yield& yield, std::uint64_t y, bool differs) {
  Fields& row = chart.add("SLOT_ROW");
  const std::uint64_t from = across(yield.first_range.low);
  const std::uint64_t to = across(yield.first_range.high);
  row.set("Y", y);
  row.set("OF", yield.of);
  row.show_if(differs, "DIFFERS");
  row.set("FROM_X", from);
  row.set("TO_X", to);
  row.set("BETWEEN", to - from);
  row.set("VALUE_X",
          across(static_cast<double>(yield.first_pass) / static_cast<double>(yield.units)));
  row.set("FIRST_PASS", yield.first_pass);
  row.set("UNITS", yield.units);
  row.set("FIRST_SHARE", share(yield.first_pass, yield.units));
}

// Of the part that the topmost line of the chart stands for.
class LotScale {
public:
  explicit LotScale(double most) {
    while (step_ * 5 < most) {
      step_ += step_ < 0.05 ? 0.01 : 0.05;
    }
  }
  std::uint64_t y(double part) const {
    const double down = (1 - std::min(part / (step_ * 5), 1.0)) * static_cast<double>(lots_height);
    return lots_top + static_cast<std::uint64_t>(std::lround(down));
  }
  double step() const { return step_; }

private:
  double step_ = 0.01; // between two lines
};

struct Lot {
  const runlog::Yield& yield;
  runlog::Interval limits;
  std::uint64_t not_good = 0;
  double part = 0;
};

void put_lot(Fields& chart, const Lot& lot, std::size_t at, std::uint64_t count,
             const LotScale& scale) {
  Fields& row = chart.add("LOT_COLUMN");
  const std::uint64_t x = lots_left + at * lots_width / count;
  const std::uint64_t width = lots_left + (at + 1) * lots_width / count - x;
  const std::uint64_t low = scale.y(lot.limits.low);
  row.set("AT", at);
  row.set("NUMBER", at + 1);
  row.set("OF", lot.yield.of);
  row.set("X", x);
  row.set("WIDTH", width);
  row.set("MIDDLE", x + width / 2);
  row.set("OVER", scale.y(lot.limits.high) - lots_top);
  row.set("LOW_Y", low);
  row.set("UNDER", lots_top + lots_height - low);
  row.set("VALUE_Y", scale.y(lot.part));
  const bool outside = lot.part > lot.limits.high || lot.part < lot.limits.low;
  row.show(outside ? "OUTSIDE" : "INSIDE");
  constexpr std::uint64_t words_room = 18; // narrower columns have no room for a number each
  row.show_if(width >= words_room || outside || at % 5 == 4, "NUMBERED");
  row.set("UNITS", lot.yield.units);
  row.set("NOT_GOOD", lot.not_good);
  row.set("NOT_GOOD_SHARE", per_cent(lot.part));
  row.set("LIMIT_LOW", per_cent(lot.limits.low));
  row.set("LIMIT_HIGH", per_cent(lot.limits.high));
}

std::vector<Lot> lots_of(const runlog::Yields& yields) {
  std::vector<Lot> out;
  for (std::size_t at = 0; at < yields.work_orders.size(); ++at) {
    const runlog::Yield& yield = yields.work_orders[at];
    const std::uint64_t not_good = yield.units - yield.first_pass;
    out.push_back({yield, yields.lots->limits[at], not_good,
                   static_cast<double>(not_good) / static_cast<double>(yield.units)});
  }
  return out;
}

} // namespace

void put_slot_charts(Fields& page, const runlog::Yields& yields) {
  std::set<std::pair<std::string, std::string>> differing;
  for (const runlog::SlotFinding& finding : yields.findings) {
    differing.emplace(finding.station, std::to_string(finding.slot));
  }
  std::map<std::string, Fields> charts;
  std::map<std::string, std::uint64_t> heights;
  for (const runlog::Yield& yield : yields.slots) {
    std::uint64_t& y = heights[yield.station];
    put_slot(charts[yield.station], yield, y, differing.contains({yield.station, yield.of}));
    y += chart_row;
  }
  Fields all;
  for (auto& [station, chart] : charts) {
    chart.set("STATION", station);
    put_scale(chart, heights[station]);
    all.add("SLOT_CHART") = std::move(chart);
  }
  if (!all.sections().empty()) {
    page.add("SLOT_CHARTS") = std::move(all);
  }
}

void put_lot_chart(Fields& page, const runlog::Yields& yields) {
  if (!yields.lots) {
    return;
  }
  const std::vector<Lot> lots = lots_of(yields);
  double most = 0;
  for (const Lot& lot : lots) {
    most = std::max({most, lot.part, lot.limits.high});
  }
  const LotScale scale(most);
  const double mean = yields.lots->mean;
  Fields& chart = page.add("LOT_CHART");
  chart.set("MEAN", per_cent(mean));
  chart.set("MEAN_Y", scale.y(mean));
  chart.show_if(!runlog::fits_a_chart(yields), "FEW");
  for (unsigned line = 0; line <= 5; ++line) {
    Fields& tick = chart.add("TICK");
    tick.set("Y", scale.y(line * scale.step()));
    tick.set("SAID", static_cast<std::uint64_t>(std::lround(line * scale.step() * 100)));
  }
  for (std::size_t at = 0; at < lots.size(); ++at) {
    put_lot(chart, lots[at], at, lots.size(), scale);
  }
}

void put_pareto(Fields& page, const std::vector<runlog::Failure>& failures) {
  if (failures.empty()) {
    return page.show("NO_FAILURES");
  }
  std::uint64_t all = 0;
  for (const runlog::Failure& failure : failures) {
    all += failure.tries;
  }
  Fields& chart = page.add("PARETO");
  std::uint64_t running = 0;
  std::size_t at = 0;
  for (const runlog::Failure& failure : failures) {
    running += failure.tries;
    Fields& row = chart.add("FAILURE");
    row.set("Y", at * chart_row);
    row.set("AT", at++);
    row.set("OUTCOME", failure.outcome);
    row.set("TRIES", failure.tries);
    row.set("WIDTH", 1 + failure.tries * (bar_width - 1) / failures.front().tries);
    row.set("SHARE", share(failure.tries, all));
    row.set("RUNNING", share(running, all));
  }
  chart.set("HEIGHT", at * chart_row);
}

} // namespace cardseal::page
