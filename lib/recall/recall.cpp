#include "recall/recall.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "recall/card_conditions.h"
#include "recall/told_twice.h"
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
    follow_boards();
    return std::move(answer_);
  }

private:
  void judge(std::size_t index) {
    const Given& given = question_.given[index];
    const Verdict of_card = judge_card(given, question_.packages, of_card_);
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
      return {List::possibly, "no log of its card was given, or its station writes none"};
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

  using Unit = std::pair<std::size_t, std::uint64_t>; // of the given, in it

  const Span& span_of(const Unit& unit) const {
    const auto behind = std::upper_bound(
        answer_.spans.begin(), answer_.spans.end(), unit,
        [](const Unit& wanted, const Span& span) { return wanted < Unit(span.given, span.first); });
    return *std::prev(behind); // every unit stands in one
  }

  // A board may have had several numbers, so this goes on until no list changes any more.
  void follow_boards() {
    std::map<Unit, Placed> moved;
    const auto placed = [&](const Unit& unit) {
      const auto found = moved.find(unit);
      return found != moved.end() ? found->second
                                  : Placed{span_of(unit).list, span_of(unit).reason};
    };
    for (bool again = true; again;) {
      again = false;
      for (std::size_t i = 0; i < question_.given.size(); ++i) {
        for (const Renumbered& one : question_.given[i].renumbered) {
          const Placed before = placed({i, one.unit});
          const Unit now{one.now_given, one.now_unit};
          if (before.list < placed(now).list) {
            moved[now] = {before.list,
                          fmt::format("is also unit {} of card {}: {}", one.unit + 1,
                                      crypto::hex(question_.given[i].row.card), before.reason)};
            again = true;
          }
        }
      }
    }
    move(moved);
  }

  void move(const std::map<Unit, Placed>& moved) {
    if (moved.empty()) {
      return;
    }
    const Answer before = std::move(answer_);
    answer_ = {};
    for (const Span& span : before.spans) {
      std::uint64_t at = span.first;
      const std::uint64_t past = span.first + span.count;
      for (auto next = moved.lower_bound({span.given, at});
           next != moved.end() && next->first < Unit(span.given, past); ++next) {
        const std::uint64_t unit = next->first.second;
        add(span.given, at, unit - at, span.list, span.reason);
        add(span.given, unit, 1, next->second.list, next->second.reason);
        at = unit + 1;
      }
      add(span.given, at, past - at, span.list, span.reason);
    }
  }

  void add(std::size_t index, std::uint64_t first, std::uint64_t count, List list,
           const std::string& reason) {
    if (count == 0) {
      return;
    }
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

namespace {

// A board that ran again under its number stands in the worst list of its runs, whichever came
// first: each run is linked with the one that gave the number, which is of the same register, so no
// list goes further than two steps.
void link_runs(std::vector<Given>& all) {
  std::map<std::string, std::map<std::uint64_t, std::size_t>> gave; // scheme, first ordinal
  std::vector<std::size_t> again;
  for (std::size_t at = 0; at < all.size(); ++at) {
    const registry::AllotmentRow& row = all[at].row;
    if (row.scheme && row.again.empty()) {
      gave[*row.scheme][row.range.first] = at;
    } else if (row.scheme) {
      again.push_back(at);
    }
  }
  const auto link = [&](std::size_t one, std::size_t other, std::uint64_t ordinal) {
    const std::optional<std::uint64_t> unit = all[one].row.unit_of(ordinal);
    const std::optional<std::uint64_t> now = all[other].row.unit_of(ordinal);
    if (unit && now && all[one].row.scheme == all[other].row.scheme) {
      all[one].renumbered.push_back({*unit, other, *now});
      all[other].renumbered.push_back({*now, one, *unit});
    }
  };
  for (const std::size_t run : again) {
    const registry::AllotmentRow& row = all[run].row;
    const std::map<std::uint64_t, std::size_t>& ranges = gave[*row.scheme];
    for (std::uint64_t unit = 0; unit < row.units; ++unit) {
      const std::uint64_t ordinal = row.ordinal_of(unit);
      const auto behind = ranges.upper_bound(ordinal);
      if (behind != ranges.begin()) {
        link(std::prev(behind)->second, run, ordinal);
      }
    }
  }
}

Try<void> put_merges(registry::Register& numbers, std::vector<Given>& all) {
  std::map<std::string, std::vector<std::string>> known; // by the order
  for (Given& given : all) {
    const auto [at, fresh] = known.try_emplace(given.row.work_order);
    if (fresh) {
      Try<std::vector<std::string>> wholes = numbers.wholes_of(given.row.work_order);
      if (!wholes) {
        return Unexpected(std::move(wholes).error());
      }
      at->second.assign(wholes->begin() + 1, wholes->end());
    }
    given.merged_into = at->second;
  }
  return {};
}

} // namespace

Try<std::vector<Given>> given_by(registry::Register& numbers) {
  std::vector<Given> out;
  std::map<std::uint64_t, std::size_t> index; // by the allotment
  Try<void> read = numbers.each_allotment([&](const registry::AllotmentRow& row) {
    index[row.id] = out.size();
    out.push_back({row, std::nullopt});
  });
  if (read) {
    read = numbers.each_rework([&](const registry::Rework& one) {
      out[index[one.before.allotment]].renumbered.push_back(
          {one.before.unit, index[one.now.allotment], one.now.unit});
    });
  }
  link_runs(out);
  if (read) {
    read = put_merges(numbers, out);
  }
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

void add_given(std::vector<Given>& all, std::vector<Given> more) {
  const std::size_t before = all.size();
  for (Given& given : more) {
    for (Renumbered& one : given.renumbered) {
      one.now_given += before;
    }
    all.push_back(std::move(given));
  }
}

bool is_of_nothing(const std::vector<Given>& given, const Condition& condition) {
  return !is_in_log(condition.key) &&
         std::all_of(given.begin(), given.end(), [&](const Given& each) {
           return judge_card(each, {}, {condition}).match == Match::no;
         });
}

Answer recall(const Question& question) {
  Answer answer = Recall(question).run();
  answer.told_twice = told_twice(question, answer);
  return answer;
}

} // namespace cardseal::recall
