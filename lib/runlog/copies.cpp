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

struct Held { // by one log
  const LogFile* log = nullptr;
  std::map<Key, const Line*> lines;
};

bool readable(const LogFile& log, std::uint32_t sector) {
  return sector <= log.sectors &&
         !std::binary_search(log.spoiled.begin(), log.spoiled.end(), sector);
}

// Whether one has a record that the other lacks, although it could be read at its place.
bool has_more(const Held& one, const Held& other) {
  return std::any_of(one.lines.begin(), one.lines.end(), [&](const auto& line) {
    return other.lines.count(line.first) == 0 && readable(*other.log, line.second->sector);
  });
}

bool any_diverge(const std::vector<Held>& logs) {
  for (std::size_t i = 0; i < logs.size(); ++i) {
    for (std::size_t j = i + 1; j < logs.size(); ++j) {
      if (has_more(logs[i], logs[j]) && has_more(logs[j], logs[i])) {
        return true;
      }
    }
  }
  return false;
}

} // namespace

bool holds(const registry::AllotmentRow& row, std::uint32_t sector) {
  if (row.jobs_on_card == 1) {
    return true;
  }
  const std::uint64_t unit = (std::uint64_t{sector} - 1) / format::log_records_a_unit;
  return sector != 0 && unit >= row.units_before && unit < row.units_before + row.units;
}

std::vector<Copies> lay_together(const std::vector<LogFile>& logs) {
  std::vector<Copies> cards;
  std::vector<std::vector<Held>> held; // of each card, by log
  for (const LogFile& log : logs) {
    auto at = std::find_if(cards.begin(), cards.end(),
                           [&](const Copies& card) { return card.card == log.card; });
    if (at == cards.end()) {
      cards.push_back({log.card, log.file, {}, false, false});
      held.emplace_back();
      at = cards.end() - 1;
    }
    Held one{&log, {}};
    for (const Line& line : log.lines) {
      one.lines.emplace(key_of(line.record), &line);
    }
    held[static_cast<std::size_t>(at - cards.begin())].push_back(std::move(one));
  }
  for (std::size_t i = 0; i < cards.size(); ++i) {
    cards[i].diverged = any_diverge(held[i]);
    std::map<Key, const Line*> all;
    for (const Held& one : held[i]) {
      all.insert(one.lines.begin(), one.lines.end());
    }
    cards[i].whole = std::any_of(held[i].begin(), held[i].end(), [&](const Held& one) {
      return one.log->whole() && one.lines.size() == all.size();
    });
    for (const auto& [key, line] : all) {
      cards[i].records.push_back(*line);
    }
  }
  return cards;
}

} // namespace cardseal::runlog
