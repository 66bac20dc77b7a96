#include "recall/recall.h"

#include <algorithm>

#include "recall/card_conditions.h"
#include "recall/unit_conditions.h"

namespace cardseal::recall {
namespace {

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
    const bool final = is_final(given, log);
    for (std::uint64_t unit = 0; unit < given.row.units; ++unit) {
      Placed placed =
          in_log_.empty() ? by_results(given, log, final, unit) : by_log(given, log, final, unit);
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

  // Nothing can be on the card that this log lacks: the card is back, and what was counted since is
  // what the log has. A log alone may be a copy from the middle of a day.
  static bool is_final(const Given& given, const UnitLog& log) {
    return given.row.counted_after_return && log.whole() && log.tells_units() &&
           log.same_begun(given.results, given.row.units);
  }

  // Where the card decides: only a unit that nobody began is not concerned.
  static Placed by_results(const Given& given, const UnitLog& log, bool final, std::uint64_t unit) {
    if ((given.results && is_set(given.results->begun, unit)) || log.has(unit)) {
      return {List::affected, "begun"};
    }
    if (final) {
      return {List::cleared, "not begun, as the log of its card shows that came back"};
    }
    return {List::possibly, given.results ? "not reported as begun, which is no proof"
                                          : "no result of its card came back"};
  }

  Placed by_log(const Given& given, const UnitLog& log, bool final, std::uint64_t unit) const {
    if (!log.present()) {
      return {List::possibly, "no log of its card was given"};
    }
    if (!log.tells_units()) {
      return {List::possibly, "its card's boards have no serials, so records can't be told apart"};
    }
    const Verdict found = log.judge(unit, in_log_);
    if (found.match == Match::yes) {
      return {List::affected, found.reason};
    }
    if (found.match == Match::unknown) {
      return {List::possibly, found.reason};
    }
    if (!log.whole()) {
      return {List::possibly, "the log of its card has gaps or strays, or two copies of it differ"};
    }
    if (final || (log.is_good(unit) && !given.row.rewritten)) {
      return {List::cleared, found.reason};
    }
    return {List::possibly, "its card may have worked on since that log: note that it is returned, "
                            "and reconcile it"};
  }

  void add(std::size_t index, std::uint64_t first, std::uint64_t count, List list,
           const std::string& reason) {
    answer_.units[static_cast<std::size_t>(list)] += count;
    if (!answer_.spans.empty()) {
      Span& last = answer_.spans.back();
      const registry::AllotmentRow& row = question_.given[index].row;
      const bool follows = last.given == index && last.first + last.count == first &&
                           (!row.scheme || row.ordinal_of(first - 1) + 1 == row.ordinal_of(first));
      if (follows && last.list == list && last.reason == reason) {
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

bool is_of_nothing(const std::vector<Given>& given, const Condition& condition) {
  return !is_in_log(condition.key) &&
         std::all_of(given.begin(), given.end(), [&](const Given& each) {
           return judge_card(each.row, {}, {condition}).match == Match::no;
         });
}

Answer recall(const Question& question) {
  return Recall(question).run();
}

} // namespace cardseal::recall
