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
  if (c.key != Key::date) {
    return value == c.value ? Match::yes : Match::no;
  }
  // What operators wrote in another form can't be compared.
  if (!is_day(value)) {
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
                      : match == Match::unknown
                          ? fmt::format("{} {} is no day to compare", word, value)
                          : fmt::format("begun with {} {}", word, value)};
    }
    met += fmt::format("{}{} {}", met.ends_with("with") ? " " : ", ", word, value);
  }
  return worst.match == Match::yes ? Verdict{Match::yes, met} : worst;
}

} // namespace

bool is_set(const io::Bytes& bits, std::uint64_t unit) {
  return unit / 8 < bits.size() && (bits[unit / 8] >> unit % 8 & 1U) != 0;
}

UnitLog::UnitLog(const registry::AllotmentRow& row, const std::vector<runlog::Copies>& cards)
    : tells_units_(row.range.count != 0) {
  const auto at = std::find_if(cards.begin(), cards.end(),
                               [&](const runlog::Copies& each) { return each.card == row.card; });
  if (at == cards.end()) {
    return;
  }
  copies_ = &*at;
  const std::string station = runlog::capitals(row.station);
  for (const auto& [sector, record] : at->records) {
    if (!runlog::holds(row, sector)) {
      continue;
    }
    if (record.station.view() != station || record.enrolment != row.enrolment ||
        (tells_units_ && (!record.ordinal.present || !row.unit_of(record.ordinal.value)))) {
      stray_ = true;
    } else if (record.ordinal.present) {
      add(*row.unit_of(record.ordinal.value), record);
    }
  }
}

void UnitLog::add(std::uint64_t unit, const format::LogRecord& record) {
  Work& work = works_[unit];
  work.records.push_back(&record);
  work.good = work.good || record.outcome.view() == format::log_good;
}

bool UnitLog::same_begun(const std::optional<registry::Results>& results,
                         std::uint64_t units) const {
  for (std::uint64_t unit = 0; unit < units; ++unit) {
    if ((results && is_set(results->begun, unit)) != has(unit)) {
      return false;
    }
  }
  return true;
}

Verdict UnitLog::judge(std::uint64_t unit, const std::vector<Condition>& conditions) const {
  const auto found = works_.find(unit);
  if (found == works_.end()) {
    return {Match::no, "not begun, as the log of its card shows that came back"};
  }
  Verdict best{Match::no, {}};
  for (const format::LogRecord* record : found->second.records) {
    Verdict one = judge_record(*record, conditions);
    if (best.reason.empty() || one.match > best.match) {
      best = std::move(one);
    }
  }
  return best;
}

} // namespace cardseal::recall
