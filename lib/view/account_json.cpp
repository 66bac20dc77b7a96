#include "view/account_json.h"

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json interval(const runlog::Interval& range) {
  return Json::array({range.low, range.high});
}

Json yields_json(const std::vector<runlog::Yield>& yields, const char* of) {
  Json out = Json::array();
  for (const runlog::Yield& one : yields) {
    Json row = Json::object();
    if (!one.station.empty()) {
      row["station"] = one.station;
    }
    if (!one.of.empty()) {
      row[of] = one.station.empty() ? Json(one.of) : Json(std::stoull(one.of));
    }
    row["units"] = one.units;
    row["first_pass"] = one.first_pass;
    row["first_pass_95"] = interval(one.first_range);
    row["good"] = one.good;
    row["good_95"] = interval(one.good_range);
    out.push_back(std::move(row));
  }
  return out;
}

Json problems_json(const std::vector<runlog::Problem>& problems) {
  Json out = Json::array();
  for (const runlog::Problem& problem : problems) {
    out.push_back({{"code", problem.code}, {"file", problem.file}, {"what", problem.what}});
  }
  return out;
}

Json row_json(const registry::AllotmentRow& row) {
  return {{"allotment", row.id},        {"card", crypto::hex(row.card)}, {"station", row.station},
          {"enrolment", row.enrolment}, {"work_order", row.work_order},  {"units", row.units}};
}

Json allotment_json(const runlog::AllotmentAccount& one) {
  Json out = row_json(one.row);
  for (std::size_t i = 0; i < one.counts.size(); ++i) {
    std::string word(runlog::unit_state_words[i]);
    word = word == "in-doubt" ? "in_doubt" : word;
    out[word] = one.counts[i];
  }
  Json open = Json::array(); // what somebody has to look for
  for (const runlog::OpenUnit& each : one.open) {
    const runlog::Unit& unit = each.unit;
    Json row = {{"unit", each.place + 1}};
    row["ordinal"] = one.row.scheme ? Json(one.row.ordinal_of(each.place)) : Json(nullptr);
    row["state"] = std::string(runlog::unit_state_words[static_cast<std::size_t>(unit.state)]);
    row["outcome"] = unit.outcome.empty() ? Json(nullptr) : Json(unit.outcome);
    row["session"] = unit.session;
    row["slot"] = unit.slot;
    open.push_back(std::move(row));
  }
  out["not_good"] = std::move(open);
  return out;
}

Json finding_json(const runlog::SlotFinding& finding) {
  return {{"station", finding.station},
          {"slot", finding.slot},
          {"not_good_first", finding.here.hits},
          {"units", finding.here.all},
          {"others_not_good_first", finding.others.hits},
          {"others_units", finding.others.all},
          {"probability", finding.probability},
          {"slots_compared", finding.compared},
          {"sentence", finding.sentence}};
}

Json finding_json(const runlog::GroupFinding& finding) {
  return {{"what", finding.what},
          {"not_good_first", finding.here.hits},
          {"units", finding.here.all},
          {"others_not_good_first", finding.others.hits},
          {"others_units", finding.others.all},
          {"control_limit", finding.by_chart ? Json(finding.limit) : Json(nullptr)},
          {"probability", finding.by_chart ? Json(nullptr) : Json(finding.probability)},
          {"groups_compared", finding.compared},
          {"sentence", finding.sentence}};
}

Json untold_json(const runlog::Untold& one) {
  Json out = row_json(one.row);
  out["spare"] = one.row.spare;
  out["begun"] = one.row.begun; // as the register has it
  out["good"] = one.row.good;
  out["blank_log"] = one.blank_log;
  return out;
}

Json chart_json(const std::optional<runlog::LotChart>& chart) {
  if (!chart) {
    return nullptr;
  }
  Json out = {{"mean_not_good_first", chart->mean}};
  out["limits"] = Json::array();
  for (const runlog::Interval& limits : chart->limits) {
    out["limits"].push_back(interval(limits));
  }
  return out;
}

} // namespace

std::string json_of(const runlog::Account& account, const runlog::Yields& yields) {
  Json out = start();
  out["logs"] = Json::array();
  for (const runlog::LogSummary& log : account.logs) {
    out["logs"].push_back(
        {{"file", log.file}, {"card", crypto::hex(log.card)}, {"records", log.records}});
  }
  out["allotments"] = Json::array();
  for (const runlog::AllotmentAccount& one : account.allotments) {
    out["allotments"].push_back(allotment_json(one));
  }
  out["untold"] = Json::array();
  for (const runlog::Untold& one : account.untold) {
    out["untold"].push_back(untold_json(one));
  }
  out["lot_chart"] = chart_json(yields.lots);
  out["yields"] = {{"slots", yields_json(yields.slots, "slot")},
                   {"sessions", yields_json(yields.sessions, "session")},
                   {"stations", yields_json(yields.stations, "")},
                   {"work_orders", yields_json(yields.work_orders, "work_order")}};
  out["slots_that_differ"] = Json::array();
  for (const runlog::SlotFinding& finding : yields.findings) {
    out["slots_that_differ"].push_back(finding_json(finding));
  }
  out["groups_that_differ"] = Json::array();
  for (const runlog::GroupFinding& finding : yields.groups) {
    out["groups_that_differ"].push_back(finding_json(finding));
  }
  out["failures"] = Json::array();
  for (const runlog::Pareto& failure : yields.failures) {
    out["failures"].push_back({{"outcome", failure.outcome},
                               {"tries", failure.tries},
                               {"share", failure.share},
                               {"with_above", failure.with_above}});
  }
  out["fixtures"] = Json::array();
  for (const runlog::FixtureCount& fixture : yields.fixtures) {
    out["fixtures"].push_back(
        {{"fixture", fixture.fixture.empty() ? Json(nullptr) : Json(fixture.fixture)},
         {"boards", fixture.boards},
         {"sessions", fixture.sessions},
         {"most_on_slot", fixture.slot},
         {"boards_of_slot", fixture.slot_boards}});
  }
  out["problems"] = problems_json(account.problems);
  return spell(out);
}

std::string json_of(const runlog::TallyAccount& account) {
  Json out = start();
  out.update(row_json(account.row));
  const runlog::Tally& tally = account.tally;
  out["tally"] = {{"issued", tally.issued},
                  {"good", tally.good},
                  {"scrap", tally.scrap},
                  {"counter_before", tally.counter_before},
                  {"counter_after", tally.counter_after},
                  {"initials", tally.initials},
                  {"scrapped", tally.scrapped},
                  {"no_board", tally.no_board}};
  out["used"] = account.used;
  out["begun"] = account.begun;
  out["returned"] = account.returned;
  out["good_units_known"] = account.good_known;
  out["problems"] = problems_json(account.problems);
  return spell(out);
}

} // namespace cardseal::view
