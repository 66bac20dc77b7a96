#include "recall/unit_conditions.h"

#include <algorithm>

#include <fmt/format.h>

namespace cardseal::recall {
namespace {

std::string value_of(const format::LogRecord& record, Key key) {
  switch (key) {
  case Key::slot:
    return std::to_string(record.slot);
  case Key::session:
    return std::to_string(record.session);
  case Key::fixture:
    return std::string(record.fixture.view());
  case Key::reel:
    return std::string(record.reel.view());
  case Key::panel:
    return std::string(record.panel.view());
  case Key::shift:
    return std::string(record.shift.view());
  default:
    return std::string(record.date.view());
  }
}

Match judge_value(const std::string& value, const Condition& c) {
  if (value.empty()) {
    return Match::unknown;
  }
  if (c.to.empty()) {
    return value == c.value ? Match::yes : Match::no;
  }
  // A word of another form than a day's can't be compared with one.
  const bool is_day = value.size() == c.value.size() && value[4] == '-' && value[7] == '-';
  if (!is_day) {
    return Match::unknown;
  }
  return value >= c.value && value <= c.to ? Match::yes : Match::no;
}

Verdict judge_record(const format::LogRecord& record, const std::vector<Condition>& conditions) {
  Verdict worst;
  std::string met = "begun with";
  for (const Condition& c : conditions) {
    const std::string value = value_of(record, c.key);
    const std::string_view word = key_words[static_cast<std::size_t>(c.key)];
    const Match match = judge_value(value, c);
    if (match < worst.match) {
      worst = {match, value.empty() ? fmt::format("{} was not entered", word)
                                    : fmt::format("begun with {} {}", word, value)};
    }
    met += fmt::format("{}{} {}", met.ends_with("with") ? " " : ", ", word, value);
  }
  return worst.match == Match::yes ? Verdict{Match::yes, met} : worst;
}

} // namespace

UnitLog::UnitLog(const registry::AllotmentRow& row, const std::vector<runlog::Copies>& cards)
    : tells_units_(row.range.count != 0) {
  const auto at = std::find_if(cards.begin(), cards.end(),
                               [&](const runlog::Copies& each) { return each.card == row.card; });
  if (at == cards.end()) {
    return;
  }
  copies_ = &*at;
  const std::string station = runlog::capitals(row.station);
  for (const format::LogRecord& record : at->records) {
    if (record.station.view() == station && record.enrolment == row.enrolment &&
        record.ordinal.present && record.ordinal.value >= row.range.first &&
        record.ordinal.value < row.range.past()) {
      records_[record.ordinal.value - row.range.first].push_back(&record);
    }
  }
}

Verdict UnitLog::judge(std::uint64_t unit, const std::vector<Condition>& conditions) const {
  const auto found = records_.find(unit);
  if (found == records_.end()) {
    return {Match::no, "not begun, as the whole log of its card shows"};
  }
  Verdict best{Match::no, {}};
  for (const format::LogRecord* record : found->second) {
    Verdict one = judge_record(*record, conditions);
    if (best.reason.empty() || one.match > best.match) {
      best = std::move(one);
    }
  }
  return best;
}

} // namespace cardseal::recall
