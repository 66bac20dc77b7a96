#include "runlog/account.h"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "runlog/copies.h"

namespace cardseal::runlog {
namespace {

// Where a board sat: session, cycle, slot.
using Board = std::tuple<std::uint32_t, std::uint32_t, std::uint8_t>;

struct Attempt {
  bool begun = false;
  std::string outcome; // empty: no end is known
};

struct Work { // on one unit
  std::set<Board> boards;
  std::map<std::pair<Board, std::uint8_t>, Attempt> tries;
  bool contradicts = false; // its records don't agree: what became of it nobody knows
};

struct Open { // an allotment's account being made
  const registry::AllotmentRow* row = nullptr;
  std::map<std::uint64_t, Work> works;              // by the unit's place in the allotment
  std::map<Board, std::uint64_t> boards;            // without serials: the unit of each board
  std::map<Board, std::set<std::uint64_t>> serials; // with them: the ordinals of each board
  std::string file;
  bool whole = false; // some log of the card is
};

class Reconciler {
public:
  Reconciler(const std::vector<registry::AllotmentRow>& rows, Account& out)
      : rows_(rows), out_(out) {}

  void run() {
    for (const LogFile& log : out_.logs) {
      note_damage(log);
    }
    for (const Copies& card : lay_together(out_.logs)) {
      if (card.diverged) {
        problem("card-copied", card.file,
                fmt::format("card {} was copied and worked with twice: each of its logs holds "
                            "records that another lacks",
                            crypto::hex(card.card)));
      }
      take_card(card);
    }
    for (auto& [row, open] : open_) {
      close(open);
    }
    count_failures();
  }

private:
  void problem(const char* code, const std::string& file, std::string what) {
    out_.problems.push_back({code, file, std::move(what)});
  }

  void note_damage(const LogFile& log) {
    const auto sectors = [](const std::vector<std::uint32_t>& all) {
      return all.size() == 1
                 ? fmt::format("{} (1 such sector)", all.front())
                 : fmt::format("{} (the first of {} such sectors)", all.front(), all.size());
    };
    if (!log.spoiled.empty()) {
      problem("record-spoiled", log.file,
              fmt::format("a record can't be read: sector {}", sectors(log.spoiled)));
    }
    if (!log.broken.empty()) {
      problem(
          "record-missing", log.file,
          fmt::format("a record is missing or was changed before sector {}", sectors(log.broken)));
    }
    if (!log.repeated.empty()) {
      problem("record-repeated", log.file,
              fmt::format("a record stands there twice: sector {}", sectors(log.repeated)));
    }
    if (log.missing_sectors > 0) {
      problem("log-short", log.file,
              fmt::format("the last {} sectors are not in this copy", log.missing_sectors));
    }
  }

  // The allotment of a record, or null with the reason noted once a card.
  Open* find(const Copies& card, const Line& line) {
    const format::LogRecord& r = line.record;
    bool card_known = false;
    const registry::AllotmentRow* found = nullptr;
    for (const registry::AllotmentRow& row : rows_) {
      card_known = card_known || row.card == card.card;
      const bool fits = row.card == card.card && row.enrolment == r.enrolment &&
                        capitals(row.station) == r.station.view();
      // Behind every share it is at least said of one of them, whose numbers then don't fit.
      if (fits && (found == nullptr || holds(row, line.sector))) {
        found = &row;
      }
    }
    if (found != nullptr) {
      Open& open = open_[found->id];
      open.row = found;
      open.file = card.file;
      open.whole = card.whole;
      return &open;
    }
    const char* code = card_known ? "station-unknown" : "card-unknown";
    if (noted_.insert({card.card, code}).second) {
      problem(code, card.file,
              card_known
                  ? fmt::format("card {} was worked with by {}, enrolment {}, which it was not "
                                "made for",
                                crypto::hex(card.card), r.station.view(), r.enrolment)
                  : fmt::format("this register gave nothing to card {}", crypto::hex(card.card)));
    }
    return nullptr;
  }

  void take_card(const Copies& card) {
    for (const Line& line : card.records) {
      if (Open* open = find(card, line)) {
        take(*open, line.record);
      }
    }
  }

  void take(Open& open, const format::LogRecord& r) {
    const Board board{r.session, r.cycle, r.slot};
    const registry::AllotmentRow& row = *open.row;
    std::uint64_t unit = open.boards.size();
    if (row.scheme) {
      if (r.ordinal.present) {
        open.serials[board].insert(r.ordinal.value);
      }
      unit = r.ordinal.value - row.range.first;
      if (!r.ordinal.present || r.ordinal.value < row.range.first || unit >= row.range.count) {
        return problem("unit-outside", open.file,
                       fmt::format("{}, session {}, cycle {}, slot {}: ordinal {} is outside {} "
                                   "to {}",
                                   row.station, r.session, r.cycle, r.slot,
                                   r.ordinal.present ? std::to_string(r.ordinal.value) : "none",
                                   row.range.first, row.range.past() - 1));
      }
    } else {
      unit = open.boards.emplace(board, unit).first->second;
    }
    Work& work = open.works[unit];
    work.boards.insert(board);
    Attempt& one = work.tries[{board, r.tries}];
    if (r.outcome.view() == format::log_begun) {
      one.begun = true;
      return;
    }
    const std::string outcome(r.outcome.view());
    if (!one.outcome.empty() && one.outcome != outcome) {
      problem(
          "record-contradicts", open.file,
          fmt::format("{}: one try ended as {} and as {}", name(open, unit), one.outcome, outcome));
      work.contradicts = true;
    }
    one.outcome = outcome;
  }

  static std::string name(const Open& open, std::uint64_t unit) {
    return open.row->scheme ? fmt::format("ordinal {}", open.row->range.first + unit)
                            : fmt::format("unit {} of {}", unit + 1, open.row->station);
  }

  void close(Open& open) {
    AllotmentAccount account;
    account.row = *open.row;
    account.units.resize(open.row->units);
    account.keepable = open.row->scheme.has_value() || open.whole;
    if (!account.keepable) {
      problem("not-kept", open.file,
              fmt::format("records of card {} are missing or can't be read, and its units have no "
                          "serials to tell them apart: the register keeps nothing of them",
                          crypto::hex(open.row->card)));
    }
    look_for_places_with_two_serials(open);
    if (open.works.size() > open.row->units) {
      problem("over-quota", open.file,
              fmt::format("{} units were begun on card {}, {} were allotted", open.works.size(),
                          crypto::hex(open.row->card), open.row->units));
    }
    for (auto& [unit, work] : open.works) {
      look_at(open, unit, work);
      if (unit < account.units.size()) {
        account.units[unit] = unit_of(work);
      }
    }
    for (const Unit& unit : account.units) {
      ++account.counts[static_cast<std::size_t>(unit.state)];
    }
    out_.allotments.push_back(std::move(account));
  }

  void look_for_places_with_two_serials(Open& open) {
    for (const auto& [board, ordinals] : open.serials) {
      if (ordinals.size() < 2) {
        continue;
      }
      const auto& [session, cycle, slot] = board;
      problem(
          "place-twice", open.file,
          fmt::format("{}, session {}, cycle {}, slot {}: one board has {} ordinals, such as {} "
                      "and {}",
                      open.row->station, session, cycle, slot, ordinals.size(), *ordinals.begin(),
                      *ordinals.rbegin()));
      for (const std::uint64_t ordinal : ordinals) { // one outside the allotment has no work
        const auto at = open.works.find(ordinal - open.row->range.first);
        if (at != open.works.end()) {
          at->second.contradicts = true;
        }
      }
    }
  }

  void look_at(const Open& open, std::uint64_t unit, Work& work) {
    if (work.boards.size() > 1) {
      problem("serial-twice", open.file,
              fmt::format("{} went to {} boards", name(open, unit), work.boards.size()));
      work.contradicts = true;
    }
    const Board* good = nullptr; // the board that was good at an earlier try
    for (const auto& [where, one] : work.tries) {
      const auto& [board, number] = where;
      if (good != nullptr && *good == board) {
        problem("good-again", open.file,
                fmt::format("{} was good, and try {} of it came after", name(open, unit), number));
        work.contradicts = true;
      }
      if (!one.begun) {
        problem("record-missing", open.file,
                fmt::format("{}: try {} ended, and no record says that it began", name(open, unit),
                            number));
      }
      good = one.outcome == format::log_good ? &board : good;
      if (!one.outcome.empty() && one.outcome != format::log_good) {
        ++failures_[one.outcome];
      }
    }
  }

  static Unit unit_of(const Work& work) {
    Unit unit;
    const auto& [session, cycle, slot] = *work.boards.begin();
    unit.slot = slot;
    unit.session = session;
    bool good = false;
    for (const auto& [where, one] : work.tries) {
      const bool this_good = one.outcome == format::log_good;
      good = good || this_good;
      unit.first_pass = unit.first_pass || (this_good && where.second == 1);
      unit.outcome = one.outcome.empty() ? unit.outcome : one.outcome;
    }
    const bool ended = !work.tries.rbegin()->second.outcome.empty();
    unit.state = good ? UnitState::good : ended ? UnitState::failed : UnitState::in_doubt;
    if (work.contradicts) {
      unit.state = UnitState::in_doubt;
      unit.first_pass = false;
    }
    return unit;
  }

  void count_failures() {
    for (const auto& [outcome, tries] : failures_) {
      out_.failures.push_back({outcome, tries});
    }
    std::stable_sort(out_.failures.begin(), out_.failures.end(),
                     [](const Failure& a, const Failure& b) { return a.tries > b.tries; });
  }

  const std::vector<registry::AllotmentRow>& rows_;
  Account& out_;
  std::map<std::uint64_t, Open> open_; // by allotment
  std::set<std::pair<format::CardId, std::string>> noted_;
  std::map<std::string, std::uint64_t> failures_;
};

std::vector<Untold> untold_of(const Account& account,
                              const std::vector<registry::AllotmentRow>& rows) {
  std::set<std::string, std::less<>> orders;
  std::set<std::uint64_t> told;
  for (const AllotmentAccount& one : account.allotments) {
    orders.insert(one.row.work_order);
    told.insert(one.row.id);
  }
  std::vector<Untold> out;
  for (const registry::AllotmentRow& row : rows) {
    if (told.contains(row.id)) {
      continue;
    }
    const bool here = std::any_of(account.logs.begin(), account.logs.end(),
                                  [&](const LogFile& log) { return log.card == row.card; });
    if (here || orders.contains(row.work_order)) {
      out.push_back({row, here});
    }
  }
  return out;
}

} // namespace

Account reconcile(std::vector<LogFile> logs, const std::vector<registry::AllotmentRow>& rows) {
  Account account;
  account.logs = std::move(logs);
  Reconciler(rows, account).run();
  account.untold = untold_of(account, rows);
  return account;
}

Bits bits_of(const AllotmentAccount& account) {
  const std::size_t bytes = (account.units.size() + 7) / 8;
  Bits bits{io::Bytes(bytes), io::Bytes(bytes)};
  for (std::size_t i = 0; i < account.units.size(); ++i) {
    const auto bit = static_cast<std::uint8_t>(1U << (i % 8));
    const UnitState state = account.units[i].state;
    bits.begun[i / 8] |= state != UnitState::unused ? bit : std::uint8_t{0};
    bits.good[i / 8] |= state == UnitState::good ? bit : std::uint8_t{0};
  }
  return bits;
}

} // namespace cardseal::runlog
