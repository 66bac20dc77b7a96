#include "runlog/copies.h"

#include <algorithm>
#include <map>
#include <tuple>

namespace cardseal::runlog {
namespace {

using Key = std::tuple<std::string, std::uint32_t, std::uint32_t, std::uint32_t, std::uint8_t,
                       std::uint8_t, bool, std::string, std::uint64_t>;

Key key_of(const format::LogRecord& r) {
  const bool end = r.outcome.view() != format::log_begun;
  return {std::string(r.station.view()),
          r.enrolment,
          r.session,
          r.cycle,
          r.slot,
          r.tries,
          end,
          std::string(r.outcome.view()),
          r.ordinal.present ? r.ordinal.value + 1 : 0};
}

using Records = std::map<Key, format::LogRecord>;

bool holds_all(const Records& all, const Records& of) {
  return std::all_of(of.begin(), of.end(),
                     [&](const auto& one) { return all.count(one.first) > 0; });
}

bool any_diverge(const std::vector<Records>& logs) {
  for (std::size_t i = 0; i < logs.size(); ++i) {
    for (std::size_t j = i + 1; j < logs.size(); ++j) {
      if (!holds_all(logs[i], logs[j]) && !holds_all(logs[j], logs[i])) {
        return true;
      }
    }
  }
  return false;
}

} // namespace

std::vector<Copies> lay_together(const std::vector<LogFile>& logs) {
  std::vector<Copies> cards;
  std::vector<std::vector<Records>> held; // of each card, by log
  for (const LogFile& log : logs) {
    auto at = std::find_if(cards.begin(), cards.end(),
                           [&](const Copies& card) { return card.card == log.card; });
    if (at == cards.end()) {
      cards.push_back({log.card, log.file, {}, false});
      held.emplace_back();
      at = cards.end() - 1;
    }
    Records records;
    for (const Line& line : log.lines) {
      records.emplace(key_of(line.record), line.record);
    }
    held[static_cast<std::size_t>(at - cards.begin())].push_back(std::move(records));
  }
  for (std::size_t i = 0; i < cards.size(); ++i) {
    cards[i].diverged = any_diverge(held[i]);
    Records all;
    for (Records& one : held[i]) {
      all.merge(one);
    }
    for (const auto& [key, record] : all) {
      cards[i].records.push_back(record);
    }
  }
  return cards;
}

} // namespace cardseal::runlog
