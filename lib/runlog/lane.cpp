#include "runlog/lane.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::runlog {
namespace {

bool is_begin(const format::LogRecord& r) {
  return r.outcome.view() == format::log_begun;
}

bool is_set(const io::Bytes& bits, std::uint64_t unit) {
  return (bits[unit / 8] >> (unit % 8) & 1U) != 0;
}

void set_bit(io::Bytes& bits, std::uint64_t unit) {
  bits[unit / 8] |= static_cast<std::uint8_t>(1U << (unit % 8));
}

} // namespace

bool comes_before(const format::LogRecord& one, const format::LogRecord& other) {
  const auto key = [](const format::LogRecord& r) {
    return std::tuple(r.session, r.cycle, r.slot, r.tries, !is_begin(r), r.outcome.view(),
                      r.ordinal.present ? r.ordinal.value + 1 : 0);
  };
  return key(one) < key(other);
}

Lane::Lane(const registry::AllotmentRow& row, std::string file)
    : row_(row), file_(std::move(file)) {
  const std::size_t bytes = (row.units + 7) / 8;
  account_.row = row;
  account_.bits = {io::Bytes(bytes), io::Bytes(bytes)};
}

void Lane::problem(std::vector<Problem>& list, const char* code, std::string what) const {
  list.push_back({code, file_, std::move(what)});
}

std::string Lane::name(std::uint64_t unit) const {
  return row_.scheme ? fmt::format("ordinal {}", row_.ordinal_of(unit))
                     : fmt::format("unit {} of {}", unit + 1, row_.station);
}

bool Lane::take(const std::vector<format::LogRecord>& records) {
  for (const format::LogRecord& record : records) {
    take(record);
  }
  return close_cycles();
}

void Lane::count_contact(const Board& board, const format::LogRecord& r) {
  if (boards_.emplace(board, boards_before_ + boards_.size()).second) {
    FixtureUse& fixture = account_.fixtures[std::string(r.fixture.view())];
    ++fixture.boards[r.slot];
    fixture.sessions.insert(r.session);
  }
}

// The unit of a record; false: it has none.
bool Lane::place_of(const format::LogRecord& r, std::uint64_t& unit) {
  const Board board{r.session, r.cycle, r.slot};
  count_contact(board, r);
  if (!row_.scheme) {
    unit = boards_.at(board);
    return true;
  }
  if (r.ordinal.present) {
    serials_[board].insert(r.ordinal.value);
  }
  const std::optional<std::uint64_t> found =
      r.ordinal.present ? row_.unit_of(r.ordinal.value) : std::nullopt;
  if (found) {
    unit = *found;
    return true;
  }
  problem(of_records_, "unit-outside",
          fmt::format("{}, session {}, cycle {}, slot {}: ordinal {} is none of this card's",
                      row_.station, r.session, r.cycle, r.slot,
                      r.ordinal.present ? std::to_string(r.ordinal.value) : "none"));
  return false;
}

void Lane::take(const format::LogRecord& r) {
  std::uint64_t unit = 0;
  if (!place_of(r, unit)) {
    return;
  }
  const Board board{r.session, r.cycle, r.slot};
  Work& work = works_[unit];
  work.boards.insert(board);
  Attempt& one = work.tries[{board, r.tries}];
  if (is_begin(r)) {
    one.begun = true;
    return;
  }
  const std::string outcome(r.outcome.view());
  if (!one.outcome.empty() && one.outcome != outcome) {
    problem(of_records_, "record-contradicts",
            fmt::format("{}: one try ended as {} and as {}", name(unit), one.outcome, outcome));
    work.contradicts = true;
  }
  one.outcome = outcome;
}

void Lane::look_for_places_with_two_serials() {
  for (const auto& [board, ordinals] : serials_) {
    if (ordinals.size() < 2) {
      continue;
    }
    const auto& [session, cycle, slot] = board;
    problem(of_places_, "place-twice",
            fmt::format("{}, session {}, cycle {}, slot {}: one board has {} ordinals, such as {} "
                        "and {}",
                        row_.station, session, cycle, slot, ordinals.size(), *ordinals.begin(),
                        *ordinals.rbegin()));
    for (const std::uint64_t ordinal : ordinals) { // one outside the allotment has no work
      const auto at = works_.find(row_.unit_of(ordinal).value_or(~std::uint64_t{0}));
      if (at != works_.end()) {
        at->second.contradicts = true;
      }
    }
  }
}

bool Lane::close_cycles() {
  look_for_places_with_two_serials();
  for (auto& [unit, work] : works_) {
    const bool inside = unit < row_.units;
    if (inside ? is_set(account_.bits.begun, unit) : !beyond_.insert(unit).second) {
      return false;
    }
    look_at(unit, work);
    if (inside) {
      keep(unit, unit_of(work));
    }
  }
  boards_before_ += boards_.size();
  works_before_ += works_.size();
  works_.clear();
  boards_.clear();
  serials_.clear();
  return true;
}

// A board that has a number may come again, but not stand in two slots; and what it was when it was
// good is not what it is after a run that failed.
void Lane::look_at_runs(std::uint64_t unit, Work& work) {
  const Board* before = nullptr;
  for (const Board& board : work.boards) {
    if (before != nullptr && std::get<0>(*before) == std::get<0>(board) &&
        std::get<1>(*before) == std::get<1>(board)) {
      of_single_units_.push_back(
          {unit,
           {"serial-twice", file_, fmt::format("{} went to two slots at a time", name(unit))}});
      work.contradicts = true;
    }
    before = &board;
  }
  const Board* good = nullptr;
  bool failed_since = false;
  for (const auto& [where, one] : work.tries) {
    const bool this_good = one.outcome == format::log_good;
    failed_since = good != nullptr && where.first != *good && !this_good;
    good = this_good ? &where.first : good;
  }
  if (failed_since) {
    of_single_units_.push_back(
        {unit,
         {"failed-after-good", file_,
          fmt::format("{} was good, and a later run of it is not: look at the board, and settle it",
                      name(unit))}});
  }
}

void Lane::look_at(std::uint64_t unit, Work& work) {
  const auto wrong = [&](const char* code, std::string what) {
    of_single_units_.push_back({unit, {code, file_, std::move(what)}});
  };
  if (row_.numbers != format::Numbers::fresh) {
    look_at_runs(unit, work);
  } else if (work.boards.size() > 1) {
    wrong("serial-twice", fmt::format("{} went to {} boards", name(unit), work.boards.size()));
    work.contradicts = true;
  }
  const Board* good = nullptr; // the board that was good at an earlier try
  for (const auto& [where, one] : work.tries) {
    const auto& [board, number] = where;
    if (good != nullptr && *good == board) {
      wrong("good-again",
            fmt::format("{} was good, and try {} of it came after", name(unit), number));
      work.contradicts = true;
    }
    if (!one.begun) {
      wrong("record-missing",
            fmt::format("{}: try {} ended, and no record says that it began", name(unit), number));
    }
    good = one.outcome == format::log_good ? &board : good;
    if (!one.outcome.empty() && one.outcome != format::log_good) {
      ++failures_[one.outcome];
    }
  }
}

Unit Lane::unit_of(const Work& work) {
  Unit unit;
  const auto& [session, cycle, slot] = *work.boards.rbegin();
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

void Lane::keep(std::uint64_t unit, Unit found) {
  set_bit(account_.bits.begun, unit);
  ++account_.counts[static_cast<std::size_t>(found.state)];
  if (found.state == UnitState::good) {
    set_bit(account_.bits.good, unit);
  }
  if (found.state != UnitState::in_doubt) {
    for (GroupSums* sums :
         {&account_.all, &account_.slots[found.slot], &account_.sessions[found.session]}) {
      sums->add(found);
    }
  }
  if (found.state != UnitState::good) {
    account_.open.push_back({unit, std::move(found)});
  }
}

AllotmentAccount Lane::finish(bool whole) {
  account_.keepable = row_.scheme.has_value() || whole;
  account_.counts[0] = row_.units - account_.counts[1] - account_.counts[2] - account_.counts[3];
  if (!account_.keepable) {
    problem(of_units_, "not-kept",
            fmt::format("records of card {} are missing or can't be read, and its units have no "
                        "serials to tell them apart: the register keeps nothing of them",
                        crypto::hex(row_.card)));
  }
  of_units_.insert(of_units_.end(), of_places_.begin(), of_places_.end());
  const std::uint64_t begun =
      row_.numbers == format::Numbers::fresh ? works_before_ : boards_before_; // each run counts
  if (begun > row_.units) {
    problem(of_units_, "over-quota",
            fmt::format("{} units were begun on card {}, {} were allotted", begun,
                        crypto::hex(row_.card), row_.units));
  }
  const auto by_unit = [](const auto& a, const auto& b) { return a.first < b.first; };
  std::stable_sort(of_single_units_.begin(), of_single_units_.end(), by_unit);
  for (auto& [unit, one] : of_single_units_) {
    of_units_.push_back(std::move(one));
  }
  std::sort(account_.open.begin(), account_.open.end(),
            [](const OpenUnit& a, const OpenUnit& b) { return a.place < b.place; });
  return std::move(account_);
}

} // namespace cardseal::runlog
