// What became of each unit, from one log or several.
#include <algorithm>
#include <cmath>

#include "logs.h"
#include "runlog/yields.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::runlog;

namespace {

std::vector<std::string> codes(const Account& account) {
  std::vector<std::string> out;
  for (const Problem& problem : account.problems) {
    out.push_back(problem.code);
  }
  return out;
}

using Codes = std::vector<std::string>;

Account of(const std::vector<std::vector<Entry>>& logs, std::uint64_t units = 4,
           bool serials = true) {
  std::vector<LogFile> files;
  for (const auto& entries : logs) {
    files.push_back(log_of(entries, "log-" + std::to_string(files.size() + 1) + ".csv"));
    if (!serials) {
      for (Line& line : files.back().lines) {
        line.record.ordinal = {};
      }
    }
  }
  return reconcile(files, {row_of(units, serials)});
}

const std::vector<Entry> day{
    {1, 1, 1, 100, "BEGUN"},   {1, 1, 2, 101, "BEGUN"},  {1, 1, 3, 102, "BEGUN"},
    {1, 1, 1, 100, "GOOD"},    {1, 1, 2, 101, "VERIFY"}, {1, 1, 2, 101, "BEGUN", 2},
    {1, 1, 2, 101, "GOOD", 2}, {2, 1, 1, 103, "BEGUN"},  {2, 1, 1, 103, "NO-CONTACT"}};

} // namespace

TEST_CASE("each unit is good, failed, in doubt or unused") {
  const Account account = of({day}, 5);
  CHECK(account.problems.empty());
  REQUIRE(account.allotments.size() == 1);
  const AllotmentAccount& one = account.allotments[0];
  CHECK(one.state(0) == UnitState::good);
  CHECK(one.state(1) == UnitState::good);
  CHECK(one.all.first_pass == 1);
  CHECK(one.all.good == 2);
  CHECK(one.state(2) == UnitState::in_doubt);
  CHECK(one.state(3) == UnitState::failed);
  CHECK(one.open.at(1).unit.outcome == "NO-CONTACT");
  CHECK(one.state(4) == UnitState::unused);
  CHECK(one.count(UnitState::good) == 2);
  const Bits& bits = one.bits;
  CHECK(bits.begun == io::Bytes{0x0F});
  CHECK(bits.good == io::Bytes{0x03});
  REQUIRE(account.failures.size() == 2);
}

TEST_CASE("a try that was begun again and has no end leaves the unit in doubt") {
  const Account account =
      of({{{1, 1, 1, 100, "BEGUN"}, {1, 1, 1, 100, "VERIFY"}, {1, 1, 1, 100, "BEGUN", 2}}});
  CHECK(account.allotments[0].state(0) == UnitState::in_doubt);
}

TEST_CASE("logs read early and late, in any order, give one account") {
  const std::vector<Entry> early(day.begin(), day.begin() + 5);
  const Account late_only = of({day}, 5);
  for (const auto& logs :
       {std::vector{early, day}, std::vector{day, early}, std::vector{day, day}}) {
    const Account both = of(logs, 5);
    CHECK(codes(both).empty());
    CHECK(both.allotments[0].counts == late_only.allotments[0].counts);
  }
  // The early log alone: what is not known yet is in doubt, and moves forward with the other.
  CHECK(of({early}, 5).allotments[0].state(1) == UnitState::failed);
  CHECK(of({early}, 5).allotments[0].state(2) == UnitState::in_doubt);
}

TEST_CASE("two copies of a card that were both worked with are noticed") {
  std::vector<Entry> one(day.begin(), day.begin() + 3);
  std::vector<Entry> other = one;
  one.push_back({1, 1, 1, 100, "GOOD"});
  other.push_back({2, 1, 1, 103, "BEGUN"});
  CHECK(codes(of({one, other})) == Codes{"card-copied"});
}

TEST_CASE("a serial on two boards, outside, and more than were allotted are named") {
  CHECK(codes(of({{{1, 1, 1, 100, "BEGUN"}, {1, 2, 4, 100, "BEGUN"}}})) == Codes{"serial-twice"});
  CHECK(codes(of({{{1, 1, 1, 99, "BEGUN"}}})) == Codes{"unit-outside"});
  CHECK(codes(of({{{1, 1, 1, 104, "BEGUN"}}})) == Codes{"unit-outside"});
  CHECK(codes(of({{{1, 1, 1, 0, "BEGUN"}, {1, 1, 2, 0, "BEGUN"}, {1, 1, 3, 0, "BEGUN"}}}, 2,
                 false)) == Codes{"over-quota"});
}

TEST_CASE("without serials boards are told apart by where and when they were worked on") {
  const Account account = of({{{1, 1, 1, 0, "BEGUN"},
                               {1, 1, 2, 0, "BEGUN"},
                               {1, 1, 1, 0, "GOOD"},
                               {1, 1, 2, 0, "VERIFY"},
                               {1, 2, 1, 0, "BEGUN"}}},
                             4, false);
  CHECK(account.problems.empty());
  CHECK(account.allotments[0].count(UnitState::good) == 1);
  CHECK(account.allotments[0].count(UnitState::failed) == 1);
  CHECK(account.allotments[0].count(UnitState::in_doubt) == 1);
}

TEST_CASE("cards and stations that the register knows nothing of are named") {
  LogFile foreign = log_of(day, "other.csv", {9, 9, 9, 9, 9, 9, 9, 9});
  CHECK(codes(reconcile({foreign}, {row_of(5)})) == Codes{"card-unknown"});
  registry::AllotmentRow other = row_of(5);
  other.station = "orchard-2";
  const Account account = reconcile({log_of(day)}, {other});
  CHECK(codes(account) == Codes{"station-unknown"});
  CHECK(account.allotments.empty());
}

TEST_CASE("an end without a begin, and two ends of one try, are named") {
  CHECK(codes(of({{{1, 1, 1, 100, "GOOD"}}})) == Codes{"record-missing"});
  const Account two =
      of({{{1, 1, 1, 100, "BEGUN"}, {1, 1, 1, 100, "GOOD"}, {1, 1, 1, 100, "VERIFY"}}});
  CHECK(codes(two) == Codes{"record-contradicts"});
  CHECK(two.allotments[0].state(0) == UnitState::in_doubt);
  CHECK(two.allotments[0].bits.good == io::Bytes{0});
}

TEST_CASE("a unit that is worked on after it was good is in doubt") {
  const Account account = of({{{1, 1, 1, 100, "BEGUN"},
                               {1, 1, 1, 100, "GOOD"},
                               {1, 1, 1, 100, "BEGUN", 2},
                               {1, 1, 1, 100, "VERIFY", 2},
                               {1, 1, 2, 101, "BEGUN"},
                               {1, 1, 2, 101, "GOOD"}}});
  CHECK(codes(account) == Codes{"good-again"});
  CHECK(account.allotments[0].state(0) == UnitState::in_doubt);
  const Bits& bits = account.allotments[0].bits;
  CHECK(bits.begun == io::Bytes{0x03});
  CHECK(bits.good == io::Bytes{0x02});
}

TEST_CASE("a serial that went to two boards is good on neither, whatever their ends say") {
  const Account account = of({{{1, 1, 1, 100, "BEGUN"},
                               {1, 1, 1, 100, "GOOD"},
                               {2, 1, 1, 100, "BEGUN"},
                               {2, 1, 1, 100, "VERIFY"}}});
  CHECK(codes(account) == Codes{"serial-twice"});
  CHECK(account.allotments[0].state(0) == UnitState::in_doubt);
  CHECK(account.allotments[0].bits.begun == io::Bytes{0x01});
  CHECK(account.allotments[0].bits.good == io::Bytes{0});
}

TEST_CASE(
    "a board that keeps its number may come twice; one that failed after it was good is named") {
  registry::AllotmentRow row = row_of(3);
  row.numbers = format::Numbers::kept;
  row.again = {{100, 1}, {110, 2}};
  const std::vector<Entry> twice{{1, 1, 1, 111, "BEGUN"}, {1, 1, 1, 111, "VERIFY"},
                                 {1, 1, 2, 100, "BEGUN"}, {1, 1, 2, 100, "GOOD"},
                                 {1, 2, 1, 111, "BEGUN"}, {1, 2, 1, 111, "GOOD"},
                                 {1, 3, 1, 100, "BEGUN"}, {1, 3, 1, 100, "VERIFY"}};
  const Account account = reconcile({log_of(twice, "log.csv")}, {row});
  CHECK(codes(account) == Codes{"over-quota", "failed-after-good"}); // four runs of three units
  const AllotmentAccount& one = account.allotments[0];
  CHECK(one.state(0) == UnitState::good);   // 100: as the register, which takes nothing back
  CHECK(one.state(1) == UnitState::unused); // 110
  CHECK(one.state(2) == UnitState::good);   // 111
  CHECK(one.bits.good == io::Bytes{0x05});
  const std::vector<Entry> together{{1, 1, 1, 111, "BEGUN"},
                                    {1, 1, 2, 111, "BEGUN"},
                                    {1, 1, 1, 111, "GOOD"},
                                    {1, 1, 2, 111, "GOOD"}};
  const Account twins = reconcile({log_of(together, "log.csv")}, {row});
  CHECK(codes(twins) == Codes{"serial-twice"});
  CHECK(twins.allotments[0].count(UnitState::good) == 0);
  const std::vector<Entry> other{{1, 1, 1, 101, "BEGUN"}}; // between the card's numbers
  CHECK(codes(reconcile({log_of(other, "log.csv")}, {row})) == Codes{"unit-outside"});
}

TEST_CASE("one board with two serials is named, and neither is good") {
  const Account account = of({{{1, 1, 1, 100, "BEGUN"},
                               {1, 1, 1, 100, "GOOD"},
                               {1, 1, 1, 102, "BEGUN"},
                               {1, 1, 1, 102, "GOOD"}}});
  CHECK(codes(account) == Codes{"place-twice"});
  CHECK(account.allotments[0].count(UnitState::in_doubt) == 2);
  CHECK(account.allotments[0].count(UnitState::good) == 0);
}

TEST_CASE("without serials only a log that is whole is kept") {
  std::vector<LogFile> logs{log_of(day, "bad.csv"), log_of(day, "whole.csv")};
  for (LogFile& log : logs) {
    for (Line& line : log.lines) {
      line.record.ordinal = {};
    }
  }
  LogFile& bad = logs[0];
  bad.lines.erase(bad.lines.begin()); // the begin of the first board; its end is there
  bad.lines.erase(bad.lines.begin() + 2);
  bad.spoiled = {1, 4};
  const auto rows = std::vector{row_of(5, false)};
  const Account alone = reconcile({bad}, rows);
  CHECK(codes(alone) == Codes{"record-spoiled", "not-kept"});
  REQUIRE(alone.allotments.size() == 1);
  CHECK_FALSE(alone.allotments[0].keepable);
  CHECK(alone.allotments[0].count(UnitState::unused) == 2); // counted all the same
  const Account both = reconcile(logs, rows);
  CHECK(codes(both) == Codes{"record-spoiled"});
  CHECK(both.allotments[0].keepable);
  LogFile short_copy = logs[1];
  short_copy.missing_sectors = 3;
  CHECK_FALSE(reconcile({short_copy}, rows).allotments[0].keepable);
  CHECK(reconcile({short_copy}, {row_of(5)}).allotments[0].keepable);
}

TEST_CASE("what can't be read in one copy accuses nobody of a copied card") {
  const std::vector<Entry> early(day.begin(), day.begin() + 5);
  LogFile one = log_of(early, "early.csv");
  LogFile late = log_of(day, "late.csv");
  late.lines.erase(late.lines.begin() + 3); // the early copy has it, the late one has more
  late.spoiled = {4};
  const Account spoiled = reconcile({one, late}, {row_of(5)});
  CHECK(codes(spoiled) == Codes{"record-spoiled"});
  CHECK(spoiled.allotments[0].state(0) == UnitState::good);
  one.lines.erase(one.lines.begin() + 1);
  one.spoiled = {2};
  CHECK(codes(reconcile({one, late}, {row_of(5)})) == Codes{"record-spoiled", "record-spoiled"});
}

TEST_CASE("a slot that fails more often than the others is named, and no other") {
  std::vector<Entry> entries;
  for (std::uint32_t cycle = 1; cycle <= 10; ++cycle) {
    for (std::uint8_t slot = 1; slot <= 6; ++slot) {
      const std::uint64_t ordinal = 100 + 6 * (cycle - 1) + slot - 1U;
      const bool bad = (slot == 4 && cycle % 2 == 0) || (slot == 2 && cycle == 3);
      entries.push_back({1, cycle, slot, ordinal, "BEGUN"});
      entries.push_back({1, cycle, slot, ordinal, bad ? "NO-CONTACT" : "GOOD"});
    }
  }
  const Yields yields = yields_of(of({entries}, 60));
  REQUIRE(yields.findings.size() == 1);
  const SlotFinding& found = yields.findings[0];
  CHECK(found.slot == 4);
  CHECK(found.here.hits == 5);
  CHECK(found.others.hits == 1);
  CHECK(found.others.all == 50);
  CHECK(found.compared == 6);
  CHECK(found.sentence.find("slot 4: 5 of 10 boards") != std::string::npos);
  REQUIRE(yields.slots.size() == 6);
  CHECK(yields.slots[3].first_pass == 5);
  CHECK(yields.stations.at(0).good == 54);
  CHECK(yields.work_orders.at(0).of == "WO-1");
}

TEST_CASE("a fixture's contacts are counted by boards, whatever became of them") {
  std::vector<LogFile> logs{log_of(day)};
  for (Line& line : logs[0].lines) {
    line.record.fixture = test::text<24>(line.record.session == 1 ? "FX-07" : "FX-08");
  }
  const Yields yields = yields_of(reconcile(logs, {row_of(5)}));
  REQUIRE(yields.fixtures.size() == 2);
  CHECK(yields.fixtures[0].fixture == "FX-07");
  CHECK(yields.fixtures[0].boards == 3); // one of them was tried twice
  CHECK(yields.fixtures[0].sessions == 1);
  CHECK(yields.fixtures[0].slot_boards == 1);
  CHECK(yields.fixtures[1].boards == 1);
  CHECK(yields.fixtures[1].slot == 1);
  CHECK(yields_of(of({day}, 5)).fixtures.at(0).fixture.empty());
}

TEST_CASE("what went wrong stands in order, with its part of all") {
  std::vector<Entry> entries;
  const std::vector<std::string> ends{"SHORT",  "VERIFY", "VERIFY", "GOOD",
                                      "VERIFY", "SHORT",  "NO-ID",  "VERIFY"};
  for (std::uint32_t i = 0; i < ends.size(); ++i) {
    entries.push_back({1, i + 1, 1, 100 + i, "BEGUN"});
    entries.push_back({1, i + 1, 1, 100 + i, ends[i]});
  }
  const Yields yields = yields_of(of({entries}, 8));
  REQUIRE(yields.failures.size() == 3);
  CHECK(yields.failures[0].outcome == "VERIFY");
  CHECK(std::abs(yields.failures[0].share - 4.0 / 7) < 1e-12);
  CHECK(std::abs(yields.failures[1].with_above - 6.0 / 7) < 1e-12);
  CHECK(yields.failures[2].outcome == "NO-ID");
  CHECK(std::abs(yields.failures[2].with_above - 1.0) < 1e-12);
}

TEST_CASE("bad boards that are spread over all slots name none") {
  std::vector<Entry> entries;
  for (std::uint32_t i = 0; i < 60; ++i) {
    const auto slot = static_cast<std::uint8_t>(i % 6 + 1);
    entries.push_back({1, i / 6 + 1, slot, 100 + i, "BEGUN"});
    entries.push_back({1, i / 6 + 1, slot, 100 + i, i % 7 == 0 ? "VERIFY" : "GOOD"});
  }
  CHECK(yields_of(of({entries}, 60)).findings.empty());
}

namespace {

// Sessions of one slot, each with this many boards and so many of them bad.
std::vector<Entry> sessions_of(const std::vector<std::pair<std::uint32_t, std::uint32_t>>& sizes) {
  std::vector<Entry> entries;
  std::uint64_t ordinal = 100;
  std::uint32_t session = 0;
  for (const auto& [boards, bad] : sizes) {
    ++session;
    for (std::uint32_t cycle = 1; cycle <= boards; ++cycle, ++ordinal) {
      entries.push_back({session, cycle, 1, ordinal, "BEGUN"});
      entries.push_back({session, cycle, 1, ordinal, cycle <= bad ? "VERIFY" : "GOOD"});
    }
  }
  return entries;
}

} // namespace

TEST_CASE("20 sessions that are large enough are held against a control chart's limits") {
  // The example of NIST/SEMATECH e-Handbook 6.3.3.2 has groups of 50 and an upper limit of 0.4102
  // at a mean of 0.2313; 19 of 50 with 11 and one with 22 have 0.231 and 0.4098.
  std::vector<std::pair<std::uint32_t, std::uint32_t>> sizes(20, {50, 11});
  sizes.back().second = 20;
  CHECK(yields_of(of({sessions_of(sizes)}, 1000)).groups.empty());
  sizes.back().second = 22;
  const Yields out = yields_of(of({sessions_of(sizes)}, 1000));
  REQUIRE(out.groups.size() == 1);
  CHECK(out.groups[0].what == "session 20 of orchard-1");
  CHECK(out.groups[0].by_chart);
  CHECK(out.groups[0].limit > 0.4097);
  CHECK(out.groups[0].limit < 0.4099);
}

TEST_CASE("too few sessions for a chart are held against each other exactly, however large") {
  const Yields out = yields_of(of({sessions_of({{50, 8}, {50, 8}, {50, 8}, {50, 22}})}, 200));
  REQUIRE(out.groups.size() == 1);
  CHECK_FALSE(out.groups[0].by_chart);
  CHECK(out.groups[0].what == "session 4 of orchard-1");
}

TEST_CASE("sessions that are too small for a chart are held against each other exactly") {
  const Yields out = yields_of(of({sessions_of({{12, 0}, {12, 0}, {12, 5}})}, 36));
  REQUIRE(out.groups.size() == 1);
  CHECK_FALSE(out.groups[0].by_chart);
  CHECK(out.groups[0].what == "session 3 of orchard-1");
  CHECK(yields_of(of({sessions_of({{12, 0}, {12, 1}, {12, 1}})}, 36)).groups.empty());
}
