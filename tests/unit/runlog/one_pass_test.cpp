// Reading a log in one pass gives the account of reading it as a whole.
#include <random>
#include <set>

#include <fmt/format.h>

#include "logs.h"
#include "runlog/yields.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::runlog;

namespace {

std::string spelled(const GroupSums& sums) {
  return fmt::format("{}/{}/{} ", sums.units, sums.first_pass, sums.good);
}

std::string spelled(const AllotmentAccount& one) {
  std::string out =
      fmt::format("allotment {} {} {} ", one.row.id, fmt::join(one.counts, ","), one.keepable);
  out += fmt::format("begun {} good {} ", crypto::hex(one.bits.begun), crypto::hex(one.bits.good));
  out += spelled(one.all);
  for (const auto& [slot, sums] : one.slots) {
    out += fmt::format("slot {} {}", slot, spelled(sums));
  }
  for (const auto& [session, sums] : one.sessions) {
    out += fmt::format("session {} {}", session, spelled(sums));
  }
  for (const auto& [fixture, use] : one.fixtures) {
    for (const auto& [slot, boards] : use.boards) {
      out += fmt::format("fixture {} {} {} {} ", fixture, slot, boards, use.sessions.size());
    }
  }
  for (const OpenUnit& each : one.open) {
    out += fmt::format("open {} {} {} {} ", each.place, static_cast<int>(each.unit.state),
                       each.unit.slot, each.unit.outcome);
  }
  return out + "\n";
}

std::string spelled(const Account& account) {
  std::string out;
  for (const LogSummary& log : account.logs) {
    out += fmt::format("log {} {}\n", crypto::hex(log.card), log.records);
  }
  for (const AllotmentAccount& one : account.allotments) {
    out += spelled(one);
  }
  for (const Failure& failure : account.failures) {
    out += fmt::format("{} {}\n", failure.outcome, failure.tries);
  }
  for (const Problem& problem : account.problems) {
    out += fmt::format("{}: {}\n", problem.code, problem.what);
  }
  return out;
}

using Chance = std::mt19937;

// Three sessions of up to 12 cycles of six slots, with retries and boards whose end is missing.
std::vector<Entry> some_work(Chance& chance) {
  std::vector<Entry> out;
  std::uint64_t ordinal = 100;
  for (std::uint32_t session = 1; session <= 3; ++session) {
    const auto cycles = static_cast<std::uint32_t>(1 + chance() % 12);
    for (std::uint32_t cycle = 1; cycle <= cycles; ++cycle) {
      const std::uint64_t first = ordinal;
      for (std::uint8_t slot = 1; slot <= 6; ++slot) {
        out.push_back({session, cycle, slot, ordinal++, "BEGUN"});
      }
      for (std::uint8_t slot = 1; slot <= 6 && chance() % 20 != 0; ++slot) {
        const bool bad = chance() % 8 == 0;
        out.push_back({session, cycle, slot, first + slot - 1, bad ? "VERIFY" : "GOOD"});
        if (bad) {
          out.push_back({session, cycle, slot, first + slot - 1, "BEGUN", 2});
          out.push_back({session, cycle, slot, first + slot - 1, "GOOD", 2});
        }
      }
    }
  }
  return out;
}

// Something that no station writes.
void bend(std::vector<Entry>& entries, Chance& chance) {
  Entry& one = entries[chance() % entries.size()];
  switch (chance() % 8) {
  case 0:
    one.ordinal = 100 + chance() % 60; // perhaps another board's
    break;
  case 1:
    one.ordinal = 5; // outside
    break;
  case 2:
    entries.push_back(one); // a second time, later
    break;
  case 3:
    std::swap(one, entries[chance() % entries.size()]);
    break;
  case 4:
    entries.erase(entries.begin() + static_cast<std::ptrdiff_t>(chance() % entries.size()));
    break;
  case 5:
    one.slot = static_cast<std::uint8_t>(1 + chance() % 6);
    break;
  case 6:
    one.outcome = chance() % 2 == 0 ? "GOOD" : "SHORT";
    break;
  default:
    one.session = 1 + chance() % 4;
  }
}

struct LogFolder {
  test::TempFolder folder;
  std::string put(const std::string& name, const io::Bytes& bytes) {
    const std::string path = (folder / name).string();
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()),
               static_cast<std::streamsize>(bytes.size()));
    return path;
  }
};

std::string in_memory(const std::vector<std::string>& files,
                      const std::vector<registry::AllotmentRow>& rows) {
  std::vector<LogFile> logs;
  for (const std::string& file : files) {
    auto log = read_log(io::real_system(), file);
    REQUIRE(log);
    logs.push_back(std::move(*log));
  }
  return spelled(reconcile(logs, rows));
}

std::string in_one_pass(const std::vector<std::string>& files,
                        const std::vector<registry::AllotmentRow>& rows) {
  auto account = reconcile_files(io::real_system(), files, rows);
  REQUIRE(account);
  return spelled(*account);
}

} // namespace

TEST_CASE("one pass over a log gives the account that all its records together give") {
  LogFolder folder;
  Chance chance(7); // any seed does: each round is a case of its own
  std::set<std::string> met;
  for (int round = 0; round < 150; ++round) {
    INFO("round " << round);
    std::vector<Entry> entries = some_work(chance);
    for (int bends = 0; bends < round % 4; ++bends) {
      bend(entries, chance);
    }
    io::Bytes bytes = log_bytes(entries);
    if (round % 5 == 0) {
      bytes[512 + chance() % (bytes.size() - 512)] ^= 1;
    }
    registry::AllotmentRow row = row_of(round % 7 == 0 ? 30 : 240, round % 3 != 0);
    const std::vector<std::string> files{folder.put("log.csv", bytes)};
    CHECK(in_one_pass(files, {row}) == in_memory(files, {row}));
    const auto account = reconcile_files(io::real_system(), files, {row});
    for (const Problem& problem : account->problems) {
      met.insert(problem.code);
    }
  }
  // What was bent was found, so the rounds were not all of one kind.
  for (const char* code : {"serial-twice", "place-twice", "unit-outside", "record-missing",
                           "record-repeated", "record-spoiled", "good-again", "over-quota"}) {
    INFO(code);
    CHECK(met.count(code) == 1);
  }
}

TEST_CASE("several cards and copies of one give one account, whichever is named first") {
  LogFolder folder;
  Chance chance(8);
  const std::vector<Entry> day = some_work(chance);
  const std::vector<Entry> early(day.begin(), day.begin() + 20);
  const format::CardId other{0, 0, 0, 0, 0, 0, 0, 2};
  registry::AllotmentRow row = row_of(240);
  registry::AllotmentRow second = row;
  second.id = 8;
  second.card = other;
  second.work_order = "WO-2";
  std::vector<std::string> files{folder.put("late.csv", log_bytes(day)),
                                 folder.put("other.csv", log_bytes(early, 4, other)),
                                 folder.put("early.csv", log_bytes(early, day.size()))};
  const std::vector<registry::AllotmentRow> rows{row, second};
  std::sort(files.begin(), files.end());
  do {
    CHECK(in_one_pass(files, rows) == in_memory(files, rows));
  } while (std::next_permutation(files.begin(), files.end()));
  CHECK(in_one_pass(files, {}) == in_memory(files, {})); // cards that the register does not know
}
