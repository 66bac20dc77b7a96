#include "lot/account.h"

#include <algorithm>
#include <iterator>
#include <unordered_map>
#include <unordered_set>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "format/codec.h"

namespace cardseal::lot {
namespace {

using registry::AllotmentRow;
using registry::Fate;

// Results that were kept after the card came back hold, whatever became of that card since; but not
// for a second card that its image went on later, which the register allows when none was begun.
// What was signed may be an image somewhere, also where nobody saw it written to its end.
Standing standing_of(const AllotmentRow& row, bool has_results) {
  if (!row.fate) {
    return row.state == registry::State::spent && !has_results ? Standing::not_made
                                                               : Standing::image;
  }
  if (row.counted_once_back) {
    return Standing::counted;
  }
  switch (*row.fate) {
  case Fate::on_card:
    return Standing::out;
  case Fate::returned:
    return Standing::uncounted;
  case Fate::destroyed:
    return Standing::destroyed;
  case Fate::lost:
    return Standing::lost;
  case Fate::erased:
    return Standing::erased;
  }
  return Standing::image;
}

bool bit_of(ByteView bits, std::uint64_t unit) {
  return unit / 8 < bits.size() && (bits[unit / 8] >> unit % 8 & 1U) != 0;
}

void add_open(std::vector<registry::Range>& open, std::uint64_t unit) {
  if (!open.empty() && open.back().past() == unit) {
    ++open.back().count;
  } else {
    open.push_back({unit, 1});
  }
}

// Where nobody can have begun it, what was not begun is unused.
bool is_known(Standing standing) {
  return standing == Standing::not_made || standing == Standing::counted;
}

std::uint64_t& count_of(format::UnitCounts& counts, registry::Settled what) {
  switch (what) {
  case registry::Settled::scrapped:
    return counts.scrapped;
  case registry::Settled::no_board:
    return counts.no_board;
  case registry::Settled::reworked:
    return counts.reworked;
  case registry::Settled::conceded:
    return counts.conceded;
  }
  return counts.scrapped;
}

// What somebody settled holds over a log; then what the log says.
enum class End : std::uint8_t { settled, taken_back, good, open, untouched };

struct UnitEnd {
  End end = End::untouched;
  registry::Settled what = registry::Settled::scrapped; // of a settled one
};

// `take` is called for each unit in order.
void each_end(const CardAccount& card, const std::optional<registry::Results>& results,
              const std::function<void(std::uint64_t, const UnitEnd&)>& take) {
  auto settled = card.settled.begin();
  auto back = card.taken_back.begin();
  for (std::uint64_t unit = 0; unit < card.row.units; ++unit) {
    while (settled != card.settled.end() && settled->units.past() <= unit) {
      ++settled;
    }
    const bool good = results && bit_of(results->good, unit);
    const bool said = settled != card.settled.end() && settled->units.first <= unit;
    while (back != card.taken_back.end() && back->first < unit) {
      ++back;
    }
    // A log that came later shows the board after all.
    if (said && !(good && settled->what == registry::Settled::no_board)) {
      take(unit, {End::settled, settled->what});
    } else if (back != card.taken_back.end() && back->first == unit) {
      take(unit, {End::taken_back});
    } else if (good) {
      take(unit, {End::good});
    } else {
      take(unit, {results && bit_of(results->begun, unit) ? End::open : End::untouched});
    }
  }
}

void count_units(CardAccount& card, const std::optional<registry::Results>& results) {
  each_end(card, results, [&](std::uint64_t unit, const UnitEnd& end) {
    switch (end.end) {
    case End::settled:
      ++count_of(card.counts, end.what);
      break;
    case End::taken_back:
      ++card.counts.reworked;
      break;
    case End::good:
      ++card.counts.good;
      break;
    case End::open:
      add_open(card.open, unit);
      break;
    case End::untouched:
      ++(is_known(card.standing) ? card.counts.unused : card.counts.unknown);
      break;
    }
  });
}

// A label belongs on a board that ships, and on no other.
LabelCounts count_labels(const CardAccount& card, const std::optional<registry::Results>& results,
                         const std::vector<registry::LabelNote>& notes, bool ships) {
  LabelCounts counts;
  for (const registry::LabelNote& note : notes) {
    counts.printed += note.what == registry::LabelFate::printed ? note.units.count : 0;
    counts.scrapped += note.what == registry::LabelFate::scrapped ? note.units.count : 0;
  }
  const registry::LabelStates last = registry::last_of(notes, {0, card.row.units});
  each_end(card, results, [&](std::uint64_t unit, const UnitEnd& end) {
    const bool applied = last[unit] == registry::LabelFate::applied;
    const bool goes = ships && (end.end == End::good || (end.end == End::settled &&
                                                         end.what == registry::Settled::conceded));
    counts.applied += applied ? 1U : 0U;
    counts.open += last[unit] == registry::LabelFate::printed ? 1U : 0U;
    counts.astray +=
        applied && !goes && end.end != End::open && end.end != End::taken_back ? 1U : 0U;
    counts.without += goes && !applied ? 1U : 0U;
  });
  return counts;
}

void add(format::UnitCounts& sum, const format::UnitCounts& more) {
  sum.good += more.good;
  sum.conceded += more.conceded;
  sum.scrapped += more.scrapped;
  sum.reworked += more.reworked;
  sum.no_board += more.no_board;
  sum.unused += more.unused;
  sum.unknown += more.unknown;
}

std::string counted(std::uint64_t number, const char* word) {
  return fmt::format("{} {}{}", number, word, number == 1 ? "" : "s");
}

std::string name_of(const CardAccount& card) {
  return fmt::format("card {} for {}", crypto::hex(card.row.card), card.row.station);
}

// A good unit that somebody called one without a board: its log came later.
std::uint64_t contradicted(const CardAccount& card, const registry::Results& results) {
  std::uint64_t units = 0;
  for (const registry::Settlement& settled : card.settled) {
    const bool needs_none = settled.what == registry::Settled::no_board;
    for (std::uint64_t unit = settled.units.first; needs_none && unit < settled.units.past();
         ++unit) {
      units += bit_of(results.good, unit) ? 1U : 0U;
    }
  }
  return units;
}

bool has_closure(const std::vector<registry::Statement>& statements) {
  return std::any_of(statements.begin(), statements.end(), [](const registry::Statement& s) {
    return s.kind == registry::StatementKind::closure;
  });
}

class Counting {
public:
  Counting(registry::Register& numbers, const std::string& work_order, const CountsFirst& counts)
      : numbers_(numbers), counts_(counts) {
    account_.work_order = work_order;
  }

  Try<Account> run() {
    Try<void> step = read_own();
    step = step ? read_merges() : std::move(step);
    if (!step) {
      return Unexpected(step.error());
    }
    account_.first_article = std::any_of(
        account_.statements.begin(), account_.statements.end(), [&](const registry::Statement& s) {
          return s.kind == registry::StatementKind::first_article &&
                 s.work_order == account_.work_order && (!counts_ || counts_(s));
        });
    if (account_.merged) {
      points_of_merged();
    } else {
      points_of_lot();
    }
    std::stable_partition(account_.points.begin(), account_.points.end(),
                          [](const Point& point) { return point.blocking; });
    return std::move(account_);
  }

private:
  Error unknown() const {
    return error_of(ErrorKind::config, "work-order-unknown",
                    "this register has no card and no order of that name", account_.work_order, "",
                    "cardseal lot list shows those it has");
  }

  Try<void> read_own() {
    Try<void> step = read_order(account_.work_order, account_.order);
    if (step && account_.cards.empty() && !account_.order) {
      return Unexpected(unknown());
    }
    return step;
  }

  // Up to the order that counts this one; else down to those that it counts.
  Try<void> read_merges() {
    Try<std::optional<registry::Merge>> merged = numbers_.merge_of(account_.work_order);
    Try<std::vector<std::string>> wholes =
        merged ? numbers_.wholes_of(account_.work_order) : Unexpected(merged.error());
    Try<std::vector<registry::Statement>> last =
        wholes ? numbers_.statements_of(wholes->back()) : Unexpected(wholes.error());
    if (!last) {
      return Unexpected(std::move(last).error());
    }
    account_.merged = std::move(*merged);
    if (account_.merged) {
      account_.closed_there = has_closure(*last);
      account_.counted_in = std::move(wholes->back());
      return {}; // what was merged into it is counted there, too
    }
    return read_parts();
  }

  Try<void> read_parts() {
    Try<std::vector<registry::Merge>> parts = numbers_.merged_into(account_.work_order);
    if (!parts) {
      return Unexpected(std::move(parts).error());
    }
    for (registry::Merge& merge : *parts) {
      Part part{std::move(merge), {}, account_.cards.size(), account_.issued};
      if (Try<void> step = read_order(part.merge.work_order, part.order); !step) {
        return step;
      }
      part.cards = account_.cards.size() - part.cards;
      part.issued = account_.issued - part.issued;
      account_.parts.push_back(std::move(part));
    }
    return {};
  }

  // One order's share: its statements and its cards.
  Try<void> read_order(const std::string& name, std::optional<registry::OrderRow>& out) {
    Try<std::optional<registry::OrderRow>> order = numbers_.order_of(name);
    Try<std::vector<std::pair<std::string, std::uint64_t>>> places =
        order ? numbers_.places_of(name) : Unexpected(order.error());
    Try<std::vector<registry::Statement>> statements =
        places ? numbers_.statements_of(name) : Unexpected(places.error());
    Try<std::vector<AllotmentRow>> rows =
        statements ? numbers_.allotments_of(name) : Unexpected(statements.error());
    if (!rows) {
      return Unexpected(std::move(rows).error());
    }
    out = std::move(*order);
    std::move(statements->begin(), statements->end(), std::back_inserter(account_.statements));
    for (auto& [place, lot] : *places) {
      places_[lot] = std::move(place);
    }
    account_.ordered += out ? out->quantity : 0;
    for (AllotmentRow& row : *rows) {
      account_.ordered += out || row.spare ? 0 : row.units;
      if (Try<void> done = add_card(std::move(row)); !done) {
        return done;
      }
    }
    return {};
  }

  Try<void> add_card(AllotmentRow row) {
    Try<std::optional<registry::Results>> results = numbers_.results_of(row.id);
    Try<std::vector<registry::Settlement>> settled =
        results ? numbers_.settlements_of(row.id) : Unexpected(results.error());
    if (!settled) {
      return Unexpected(std::move(settled).error());
    }
    CardAccount card;
    card.row = std::move(row);
    card.standing = standing_of(card.row, results->has_value());
    card.settled = std::move(*settled);
    const auto place = places_.find(card.row.lot);
    card.place = place == places_.end() ? std::string() : place->second;
    Try<std::vector<registry::Range>> back = numbers_.taken_back(card.row);
    if (!back) {
      return Unexpected(std::move(back).error());
    }
    card.taken_back = std::move(*back);
    count_units(card, *results);
    Try<std::vector<registry::LabelNote>> labels = numbers_.labels_of(card.row.id);
    if (!labels) {
      return Unexpected(std::move(labels).error());
    }
    if (!labels->empty()) {
      card.labels = count_labels(card, *results, *labels, card.row.work_class != "engineering");
    }
    account_.issued += card.row.units;
    account_.open += card.open_units();
    add(account_.units, card.counts);
    points_of(card, *results);
    account_.cards.push_back(std::move(card));
    return {};
  }

  void point(const char* code, bool blocking, std::string text) {
    account_.points.push_back({code, blocking, std::move(text)});
  }

  void points_of(const CardAccount& card, const std::optional<registry::Results>& results) {
    const std::string name = name_of(card);
    switch (card.standing) {
    case Standing::image:
      point("card-unnoted", true, name + ": where it is nobody noted (cardseal card note)");
      break;
    case Standing::out:
      point("card-out", true, name + " is not back");
      break;
    case Standing::uncounted:
      point("card-uncounted", true, name + " is back and not counted (cardseal reconcile)");
      break;
    case Standing::erased:
      point("card-erased", true,
            name + " was erased before it was counted: note it as lost or destroyed");
      break;
    case Standing::lost:
    case Standing::destroyed:
      point("card-gone", false,
            fmt::format("{} is {}: {} units unknown", name,
                        standing_words[static_cast<std::size_t>(card.standing)],
                        card.counts.unknown));
      break;
    case Standing::not_made:
    case Standing::counted:
      break;
    }
    if (card.open_units() != 0) {
      point("units-open", true,
            fmt::format("{}: {} units failed or in doubt, and nobody said what became of them",
                        name, card.open_units()));
    }
    points_of_labels(card);
    const std::uint64_t twice = results ? contradicted(card, *results) : 0;
    if (twice != 0) {
      point("settled-good", false,
            fmt::format("{}: {} units said to be without a board are good by their log", name,
                        twice));
    }
  }

  void points_of_labels(const CardAccount& card) {
    if (!card.labels) {
      return;
    }
    const std::string name = name_of(card);
    if (card.labels->open != 0) {
      point("labels-open", true,
            fmt::format("{}: {} labels printed, and neither applied nor scrapped", name,
                        card.labels->open));
    }
    if (card.labels->astray != 0) {
      point("labels-astray", true,
            fmt::format("{}: {} labels on boards that will not ship", name, card.labels->astray));
    }
    if (card.labels->without != 0) {
      point("labels-without", true,
            fmt::format("{}: {} boards that ship were scanned with no label", name,
                        card.labels->without));
    }
  }

  // What is missing is said of the order that counts this one.
  void points_of_merged() {
    point("merged", !account_.closed_there,
          fmt::format("it was merged into {}, and is counted and closed with {}",
                      account_.merged->whole, account_.counted_in));
  }

  // One sentence, however many there are: a closure holds a few.
  std::string parts_words() const {
    constexpr std::size_t most = 100; // bytes of names
    std::uint64_t units = 0;
    std::string names;
    std::size_t left = 0;
    for (const Part& part : account_.parts) {
      units += part.issued;
      const bool fits = left == 0 && names.size() + part.merge.work_order.size() < most;
      names += fits ? fmt::format("{}{}", names.empty() ? "" : ", ", part.merge.work_order) : "";
      left += fits ? 0U : 1U;
    }
    return fmt::format("merged into it: {}{}; {} of theirs", names,
                       left == 0 ? "" : fmt::format(" and {} more", left), counted(units, "unit"));
  }

  void points_of_lot() {
    if (account_.order && account_.order->first_article && !account_.first_article) {
      point("first-article-missing", true,
            "the order asks for a first article, and none is signed (cardseal lot first-article)");
    }
    for (const registry::Statement& statement : account_.statements) {
      format::Close text;
      if (statement.kind == registry::StatementKind::closure &&
          format::decode(ByteView(statement.text), text).ok() && text.units != account_.units) {
        point("changed-since-closing", false,
              fmt::format("counts changed since it was closed: {} good then, {} now",
                          text.units.good, account_.units.good));
      }
    }
    if (!account_.parts.empty()) {
      point("merged-here", false, parts_words());
    }
    if (account_.cards.empty()) {
      point("no-card", true, "no card was made for this order");
    }
    if (account_.shippable() < account_.ordered) {
      point(
          "short", false,
          fmt::format("{} of {} boards ordered can ship", account_.shippable(), account_.ordered));
    }
  }

  registry::Register& numbers_;
  const CountsFirst& counts_;
  std::unordered_map<std::uint64_t, std::string> places_; // by the register's lot
  Account account_;
};

} // namespace

std::uint64_t CardAccount::open_units() const {
  std::uint64_t units = 0;
  for (const registry::Range& range : open) {
    units += range.count;
  }
  return units;
}

std::string Account::work_class() const {
  return order ? order->work_class : cards.empty() ? std::string() : cards.front().row.work_class;
}

std::uint64_t Account::spares() const {
  std::uint64_t spares = order ? order->spares : 0;
  for (const Part& part : parts) {
    spares += part.order ? part.order->spares : 0;
  }
  return spares;
}

std::uint64_t Account::shippable() const {
  return work_class() == "engineering" ? 0 : units.good + units.conceded;
}

std::uint64_t Account::shippable(const CardAccount& card) const {
  return work_class() == "engineering" ? 0 : card.counts.good + card.counts.conceded;
}

bool Account::closed() const {
  return closed_there || has_closure(statements);
}

bool Account::closable() const {
  return !closed() && std::none_of(points.begin(), points.end(),
                                   [](const Point& point) { return point.blocking; });
}

Try<Account> account_of(registry::Register& numbers, const std::string& work_order,
                        const CountsFirst& counts) {
  return Counting(numbers, work_order, counts).run();
}

Try<std::vector<std::string>> work_orders(registry::Register& numbers) {
  std::vector<std::string> names;
  std::unordered_set<std::string> seen;
  const auto add_name = [&](const std::string& name) {
    if (seen.insert(name).second) {
      names.push_back(name);
    }
  };
  Try<void> done =
      numbers.each_order([&](const registry::OrderRow& row) { add_name(row.work_order); });
  if (done) {
    done = numbers.each_allotment([&](const AllotmentRow& row) { add_name(row.work_order); });
  }
  return done ? Try<std::vector<std::string>>(std::move(names))
              : Unexpected(std::move(done).error());
}

} // namespace cardseal::lot
