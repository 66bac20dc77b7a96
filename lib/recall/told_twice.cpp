#include "recall/told_twice.h"

#include <algorithm>
#include <iterator>
#include <map>

namespace cardseal::recall {
namespace {

using Unit = std::pair<std::size_t, std::uint64_t>; // of the given, in it

// Sets of units of one board, each named by one of them.
class Boards {
public:
  const Unit& named(const Unit& unit) {
    auto at = parent_.try_emplace(unit, unit).first;
    while (at->second != at->first) {
      const auto next = parent_.find(at->second);
      at->second = next->second; // halves the way for whoever asks next
      at = next;
    }
    return at->first;
  }

  void join(const Unit& one, const Unit& other) {
    const Unit name = named(one);
    parent_[named(other)] = name;
  }

  std::vector<Unit> units() const {
    std::vector<Unit> all;
    all.reserve(parent_.size());
    for (const auto& [unit, parent] : parent_) {
      all.push_back(unit);
    }
    return all;
  }

private:
  std::map<Unit, Unit> parent_;
};

// Every unit stands in one.
std::size_t list_of(const Answer& answer, const Unit& unit) {
  const auto behind = std::upper_bound(
      answer.spans.begin(), answer.spans.end(), unit,
      [](const Unit& wanted, const Span& span) { return wanted < Unit(span.given, span.first); });
  return static_cast<std::size_t>(std::prev(behind)->list);
}

} // namespace

std::array<std::uint64_t, list_words.size()> told_twice(const Question& question,
                                                        const Answer& answer) {
  Boards boards;
  for (std::size_t given = 0; given < question.given.size(); ++given) {
    for (const Renumbered& one : question.given[given].renumbered) {
      boards.join({given, one.unit}, {one.now_given, one.now_unit});
    }
  }
  std::array<std::uint64_t, list_words.size()> twice{};
  std::map<Unit, std::size_t> worst; // by the board's name
  for (const Unit& unit : boards.units()) {
    const std::size_t list = list_of(answer, unit);
    ++twice[list];
    const auto [at, fresh] = worst.try_emplace(boards.named(unit), list);
    at->second = std::min(at->second, list);
  }
  for (const auto& [board, list] : worst) {
    --twice[list]; // this is where it is told first
  }
  return twice;
}

} // namespace cardseal::recall
