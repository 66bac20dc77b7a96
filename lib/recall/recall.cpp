#include "recall/recall.h"

#include <algorithm>

#include "recall/card_conditions.h"
#include "recall/unit_conditions.h"

namespace cardseal::recall {
namespace {

bool bit(const io::Bytes& bits, std::uint64_t unit) {
  return unit / 8 < bits.size() && (bits[unit / 8] >> unit % 8 & 1U) != 0;
}

bool is_back(const registry::AllotmentRow& row) {
  return row.fate == registry::Fate::returned || row.fate == registry::Fate::destroyed;
}

class Recall {
public:
  explicit Recall(const Question& question)
      : question_(question), cards_(runlog::lay_together(question.logs)) {
    for (const Condition& c : question.where) {
      (is_in_log(c.key) ? in_log_ : of_card_).push_back(c);
    }
  }

  Answer run() {
    for (std::size_t i = 0; i < question_.given.size(); ++i) {
      judge(i);
    }
    return std::move(answer_);
  }

private:
  void judge(std::size_t index) {
    const Given& given = question_.given[index];
    const Verdict of_card = judge_card(given.row, question_.packages, of_card_);
    if (of_card.match == Match::no) {
      return add(index, 0, given.row.units, List::cleared, of_card.reason);
    }
    const UnitLog log(given.row, cards_);
    for (std::uint64_t unit = 0; unit < given.row.units; ++unit) {
      Placed placed = in_log_.empty() ? by_results(given, log, unit) : by_log(given, log, unit);
      if (placed.list == List::affected && of_card.match == Match::unknown) {
        placed = {List::possibly, of_card.reason};
      }
      add(index, unit, 1, placed.list, placed.reason);
    }
  }

  struct Placed {
    List list;
    std::string reason;
  };

  // Where the card decides: only a unit that nobody began is not concerned.
  Placed by_results(const Given& given, const UnitLog& log, std::uint64_t unit) const {
    if ((given.results && bit(given.results->begun, unit)) || log.has(unit)) {
      return {List::affected, "begun"};
    }
    if (log.whole() && log.tells_units()) {
      return {List::cleared, "not begun, as the whole log of its card shows"};
    }
    if (!given.results) {
      return {List::possibly, "no result of its card came back"};
    }
    if (is_back(given.row)) {
      return {List::cleared, "not begun when its card came back or was destroyed"};
    }
    return {List::possibly, "not reported as begun, and its card may still be in use"};
  }

  Placed by_log(const Given& given, const UnitLog& log, std::uint64_t unit) const {
    if (!log.present()) {
      return {List::possibly, "no log of its card was given"};
    }
    if (!log.tells_units()) {
      return {List::possibly,
              "its card's boards have no serials, so its records can't be told apart"};
    }
    const Verdict found = log.judge(unit, in_log_);
    if (found.match == Match::yes) {
      return {List::affected, found.reason};
    }
    if (found.match == Match::unknown) {
      return {List::possibly, found.reason};
    }
    if (!log.whole()) {
      return {List::possibly, "the log of its card has gaps, or two copies of it differ"};
    }
    if (!log.has(unit) && given.results && bit(given.results->begun, unit)) {
      return {List::possibly, "begun, as the register knows, and no record of it was given"};
    }
    return {List::cleared, found.reason};
  }

  void add(std::size_t index, std::uint64_t first, std::uint64_t count, List list,
           const std::string& reason) {
    answer_.units[static_cast<std::size_t>(list)] += count;
    if (!answer_.spans.empty()) {
      Span& last = answer_.spans.back();
      if (last.given == index && last.list == list && last.reason == reason &&
          last.first + last.count == first) {
        last.count += count;
        return;
      }
    }
    answer_.spans.push_back({index, first, count, list, reason});
  }

  const Question& question_;
  std::vector<runlog::Copies> cards_;
  std::vector<Condition> of_card_;
  std::vector<Condition> in_log_;
  Answer answer_;
};

} // namespace

Try<std::vector<Given>> given_by(registry::Register& numbers) {
  std::vector<Given> out;
  Try<void> read = numbers.each_allotment([&](const registry::AllotmentRow& row) {
    out.push_back({row, std::nullopt});
  });
  if (!read) {
    return Unexpected(std::move(read).error());
  }
  for (Given& given : out) {
    Try<std::optional<registry::Results>> results = numbers.results_of(given.row.id);
    if (!results) {
      return Unexpected(std::move(results).error());
    }
    given.results = std::move(*results);
  }
  return out;
}

Answer recall(const Question& question) {
  return Recall(question).run();
}

} // namespace cardseal::recall
