#include "runlog/account.h"

#include <algorithm>
#include <deque>
#include <memory>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "runlog/copies.h"
#include "runlog/lane.h"
#include "runlog/log_scan.h"

namespace cardseal::runlog {
namespace {

using Rows = std::vector<registry::AllotmentRow>;
// In capitals, with the enrolment, and the allotment: 0 when it was given nothing on the card.
using StationName = std::tuple<std::string, std::uint32_t, std::uint64_t>;

// What the records of one station in one share of a card's log are taken into; no lane: it was
// given nothing there.
struct Station {
  std::uint64_t allotment = 0;
  std::unique_ptr<Lane> lane;
  bool card_known = false;
};

// The allotment of a record; null: none. Behind every share it is at least said of one of them,
// whose numbers then don't fit.
const registry::AllotmentRow* row_of(const Rows& rows, const format::CardId& card,
                                     const Line& line) {
  const registry::AllotmentRow* found = nullptr;
  for (const registry::AllotmentRow& row : rows) {
    const bool fits = row.card == card && row.enrolment == line.record.enrolment &&
                      capitals(row.station) == line.record.station.view();
    if (fits && (found == nullptr || holds(row, line.sector))) {
      found = &row;
    }
  }
  return found;
}

StationName name_of(const format::LogRecord& r, const registry::AllotmentRow* row) {
  return {std::string(r.station.view()), r.enrolment, row == nullptr ? 0 : row->id};
}

Station station_of(const Rows& rows, const format::CardId& card, const std::string& file,
                   const registry::AllotmentRow* row) {
  Station out;
  out.card_known =
      std::any_of(rows.begin(), rows.end(), [&](const auto& each) { return each.card == card; });
  if (row != nullptr) {
    out.allotment = row->id;
    out.lane = std::make_unique<Lane>(*row, file);
  }
  return out;
}

struct CardWork {
  format::CardId card{};
  std::string file;
  std::map<StationName, Station> stations;
  bool diverged = false;
  bool whole = false;
};

CardWork work_of(const Copies& copies, const Rows& rows) {
  CardWork out{copies.card, copies.file, {}, copies.diverged, copies.whole};
  std::map<StationName, std::vector<format::LogRecord>> records;
  for (const Line& line : copies.records) {
    const registry::AllotmentRow* row = row_of(rows, out.card, line);
    const StationName name = name_of(line.record, row);
    records[name].push_back(line.record);
    if (out.stations.count(name) == 0) {
      out.stations.emplace(name, station_of(rows, out.card, out.file, row));
    }
  }
  for (auto& [name, station] : out.stations) {
    if (station.lane) {
      station.lane->take(records[name]); // all of them, so no unit was in an earlier call
    }
  }
  return out;
}

// A card's only log, cycle by cycle.
class CycleTaker final : public LogTaker {
public:
  CycleTaker(const Rows& rows, CardWork& out) : rows_(rows), out_(out) {}

  Taken take(const Line& line) override {
    const format::LogRecord& r = line.record;
    Cycle& cycle = cycle_of(line);
    if (!cycle.records.empty()) {
      const format::LogRecord& last = cycle.records.back();
      const auto at = std::pair(r.session, r.cycle);
      const auto before = std::pair(last.session, last.cycle);
      if (at < before || (at > before && !close(cycle))) {
        return Taken::stop;
      }
    }
    if (cycle.sessions.insert(r.session).second && is_elsewhere(cycle, r.session)) {
      return Taken::stop;
    }
    const bool again =
        std::any_of(cycle.records.begin(), cycle.records.end(), [&](const format::LogRecord& one) {
          return !comes_before(one, r) && !comes_before(r, one);
        });
    if (again) {
      return Taken::repeated;
    }
    cycle.records.push_back(r);
    return cycle.records.size() <= most_records ? Taken::once : Taken::stop;
  }

  bool close_all() { return std::all_of(cycles_.begin(), cycles_.end(), close); }

private:
  // A cycle has fewer: 32 slots of three tries, begin and end.
  static constexpr std::size_t most_records = 1024;
  struct Cycle {
    format::LogWord station;
    std::uint32_t enrolment = 0;
    const registry::AllotmentRow* row = nullptr; // null: it was given nothing
    Station* work = nullptr;
    std::vector<format::LogRecord> records; // of one session and cycle
    std::set<std::uint32_t> sessions;

    bool is_of(const format::LogRecord& r) const {
      return enrolment == r.enrolment && station.view() == r.station.view();
    }
  };

  // A session is of one job: another share that has it would hide a record that stands there twice.
  bool is_elsewhere(const Cycle& cycle, std::uint32_t session) const {
    return std::any_of(cycles_.begin(), cycles_.end(), [&](const Cycle& one) {
      return &one != &cycle && one.enrolment == cycle.enrolment &&
             one.station.view() == cycle.station.view() && one.sessions.count(session) != 0;
    });
  }

  Cycle& cycle_of(const Line& line) {
    const format::LogRecord& r = line.record;
    for (Cycle& one : cycles_) { // most cards have one job
      if (one.is_of(r) && (one.row == nullptr || one.row->jobs_on_card == 1)) {
        return one;
      }
    }
    const registry::AllotmentRow* row = row_of(rows_, out_.card, line);
    for (Cycle& one : cycles_) {
      if (one.is_of(r) && one.row == row) {
        return one;
      }
    }
    const auto at =
        out_.stations.emplace(name_of(r, row), station_of(rows_, out_.card, out_.file, row));
    cycles_.push_back({r.station, r.enrolment, row, &at.first->second, {}, {}});
    return cycles_.back();
  }

  static bool close(Cycle& cycle) {
    std::sort(cycle.records.begin(), cycle.records.end(), comes_before);
    const bool good = !cycle.work->lane || cycle.work->lane->take(cycle.records);
    cycle.records.clear();
    return good;
  }

  const Rows& rows_;
  CardWork& out_;
  std::deque<Cycle> cycles_; // one a station and share
};

class Reconciler {
public:
  void add_log(const LogFile& log, std::uint64_t records) {
    out_.logs.push_back({log.file, log.card, records, log.whole()});
    note_damage(log);
  }

  // The cards in the order in which they first came.
  Account finish(std::vector<CardWork> cards) {
    std::map<std::uint64_t, std::pair<Lane*, bool>> lanes; // by allotment; whether the log is whole
    for (CardWork& card : cards) {
      take_card(card);
      for (auto& [name, station] : card.stations) {
        if (station.lane) {
          lanes[station.allotment] = {station.lane.get(), card.whole};
        }
      }
    }
    for (auto& [id, lane] : lanes) {
      close(*lane.first, lane.second);
    }
    count_failures();
    return std::move(out_);
  }

private:
  void problem(const char* code, const std::string& file, std::string what) {
    out_.problems.push_back({code, file, std::move(what)});
  }
  void add(const std::vector<Problem>& problems) {
    out_.problems.insert(out_.problems.end(), problems.begin(), problems.end());
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

  void take_card(const CardWork& card) {
    if (card.diverged) {
      problem("card-copied", card.file,
              fmt::format("card {} was copied and worked with twice: each of its logs holds "
                          "records that another lacks",
                          crypto::hex(card.card)));
    }
    std::set<std::string> noted;
    for (const auto& [name, station] : card.stations) {
      if (station.lane) {
        add(station.lane->of_records());
        continue;
      }
      const char* code = station.card_known ? "station-unknown" : "card-unknown";
      if (noted.insert(code).second) {
        problem(code, card.file,
                station.card_known
                    ? fmt::format("card {} was worked with by {}, enrolment {}, which it was not "
                                  "made for",
                                  crypto::hex(card.card), std::get<0>(name), std::get<1>(name))
                    : fmt::format("this register gave nothing to card {}", crypto::hex(card.card)));
      }
    }
  }

  void close(Lane& lane, bool whole) {
    out_.allotments.push_back(lane.finish(whole));
    add(lane.of_units());
    for (const auto& [outcome, tries] : lane.failures()) {
      failures_[outcome] += tries;
    }
  }

  void count_failures() {
    for (const auto& [outcome, tries] : failures_) {
      out_.failures.push_back({outcome, tries});
    }
    std::stable_sort(out_.failures.begin(), out_.failures.end(),
                     [](const Failure& a, const Failure& b) { return a.tries > b.tries; });
  }

  Account out_;
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
    Untold one{row, false, false};
    for (const LogSummary& log : account.logs) {
      one.blank_log = one.blank_log || log.card == row.card;
      one.whole_log = one.whole_log || (log.card == row.card && log.whole);
    }
    if (one.blank_log || orders.contains(row.work_order)) {
      out.push_back(std::move(one));
    }
  }
  return out;
}

Account with_untold(Account account, const Rows& rows) {
  account.untold = untold_of(account, rows);
  return account;
}

struct CardFiles {
  format::CardId card{};
  std::vector<std::size_t> files; // places in the list of files
};

Try<std::vector<CardFiles>> by_card(io::System& system, const std::vector<std::string>& files) {
  std::vector<CardFiles> cards;
  for (std::size_t i = 0; i < files.size(); ++i) {
    auto card = card_of_log(system, files[i]);
    if (!card) {
      return Unexpected(std::move(card).error());
    }
    auto at = std::find_if(cards.begin(), cards.end(),
                           [&](const CardFiles& one) { return one.card == *card; });
    at = at == cards.end() ? cards.insert(at, {*card, {}}) : at;
    at->files.push_back(i);
  }
  return cards;
}

// Nothing: the log has to be kept in memory.
Try<std::optional<CardWork>> one_pass(io::System& system, const std::string& file,
                                      const format::CardId& card, const Rows& rows, LogFile& log) {
  CardWork work{card, file, {}, false, false};
  CycleTaker taker(rows, work);
  auto scanned = scan_log(system, file, taker);
  if (!scanned) {
    return Unexpected(std::move(scanned).error());
  }
  if (!*scanned || !taker.close_all()) {
    return std::optional<CardWork>();
  }
  log = std::move(**scanned);
  work.whole = log.whole();
  return std::optional<CardWork>(std::move(work));
}

// All logs of one card; `looked_at` gets each of them at its place, without its lines.
Try<CardWork> work_of(io::System& system, const std::vector<std::string>& files,
                      const CardFiles& card, const Rows& rows, std::vector<LogFile>& looked_at) {
  if (card.files.size() == 1) {
    const std::size_t file = card.files.front();
    auto work = one_pass(system, files[file], card.card, rows, looked_at[file]);
    if (!work) {
      return Unexpected(std::move(work).error());
    }
    if (*work) {
      return std::move(**work);
    }
  }
  std::vector<LogFile> logs;
  for (const std::size_t file : card.files) {
    auto log = read_log(system, files[file]);
    if (!log) {
      return Unexpected(std::move(log).error());
    }
    logs.push_back(std::move(*log));
  }
  CardWork work = work_of(lay_together(logs).front(), rows);
  for (std::size_t i = 0; i < logs.size(); ++i) {
    logs[i].lines = {};
    looked_at[card.files[i]] = std::move(logs[i]);
  }
  return work;
}

} // namespace

UnitState AllotmentAccount::state(std::uint64_t place) const {
  const auto at = std::lower_bound(
      open.begin(), open.end(), place,
      [](const OpenUnit& one, std::uint64_t wanted) { return one.place < wanted; });
  if (at != open.end() && at->place == place) {
    return at->unit.state;
  }
  return (bits.good[place / 8] >> (place % 8) & 1U) != 0 ? UnitState::good : UnitState::unused;
}

Account reconcile(const std::vector<LogFile>& logs, const Rows& rows) {
  Reconciler out;
  for (const LogFile& log : logs) {
    out.add_log(log, log.lines.size());
  }
  std::vector<CardWork> cards;
  for (const Copies& copies : lay_together(logs)) {
    cards.push_back(work_of(copies, rows));
  }
  return with_untold(out.finish(std::move(cards)), rows);
}

Try<Account> reconcile_files(io::System& system, const std::vector<std::string>& files,
                             const Rows& rows) {
  auto cards = by_card(system, files);
  if (!cards) {
    return Unexpected(std::move(cards).error());
  }
  std::vector<LogFile> looked_at(files.size()); // without their lines
  std::vector<CardWork> works;
  for (const CardFiles& card : *cards) {
    auto work = work_of(system, files, card, rows, looked_at);
    if (!work) {
      return Unexpected(std::move(work).error());
    }
    works.push_back(std::move(*work));
  }
  Reconciler out;
  for (const LogFile& log : looked_at) {
    out.add_log(log, log.records);
  }
  return with_untold(out.finish(std::move(works)), rows);
}

} // namespace cardseal::runlog
