// A hand tally against the allotment it is about.
#include "logs.h"
#include "runlog/tally.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::runlog;

namespace {

Tally tally(std::uint64_t good, std::uint64_t scrap) {
  Tally t;
  t.issued = good + scrap;
  t.good = good;
  t.scrap = scrap;
  t.counter_before = 4100;
  t.counter_after = 4100 + good + scrap;
  t.initials = {"AB", "CD"};
  return t;
}

std::string error_of(const Tally& t) {
  const auto judged = judge_tally(t, row_of(20));
  return judged ? "done" : judged.error().code;
}

} // namespace

TEST_CASE("a tally without scrap makes every number used a good one") {
  const auto account = judge_tally(tally(11, 0), row_of(20));
  REQUIRE(account);
  CHECK(account->problems.empty());
  CHECK(account->used == 11);
  CHECK(account->good_known);
  CHECK(account->bits.begun == io::Bytes{0xFF, 0x07, 0x00});
  CHECK(account->bits.good == account->bits.begun);
}

TEST_CASE("scrap that is named is not good; scrap that is not named leaves all open") {
  Tally t = tally(9, 2);
  auto account = judge_tally(t, row_of(20));
  REQUIRE(account);
  CHECK_FALSE(account->good_known);
  CHECK(account->bits.good == io::Bytes{0, 0, 0});
  t.scrapped = {101, 108};
  account = judge_tally(t, row_of(20));
  REQUIRE(account);
  CHECK(account->good_known);
  CHECK(account->bits.good == io::Bytes{0xFD, 0x06, 0x00});
}

TEST_CASE("a counter that contradicts the boards, and too many of them, are named") {
  Tally t = tally(11, 0);
  ++t.counter_after;
  auto account = judge_tally(t, row_of(20));
  REQUIRE(account);
  REQUIRE(account->problems.size() == 1);
  CHECK(account->problems[0].code == "tally-counter");
  CHECK_FALSE(account->good_known);
  account = judge_tally(tally(21, 0), row_of(20));
  REQUIRE(account);
  REQUIRE(account->problems.size() == 1);
  CHECK(account->problems[0].code == "over-quota");
  t = tally(11, 0);
  t.issued = 13;
  CHECK(judge_tally(t, row_of(20))->returned == 2);
}

TEST_CASE("a tally that can't be true is refused") {
  for (const auto& [one, other] :
       {std::pair{"AB", "AB"}, std::pair{"A", "CD"}, std::pair{"ab", "CD"},
        std::pair{"ABCDE", "CD"}, std::pair{"", ""}}) {
    Tally t = tally(3, 0);
    t.initials = {one, other};
    CHECK(error_of(t) == "tally-initials");
  }
  Tally t = tally(3, 0);
  t.counter_after = t.counter_before - 1;
  CHECK(error_of(t) == "tally-counter");
  t = tally(3, 1);
  t.issued = 3;
  CHECK(error_of(t) == "tally-boards");
  t = tally(3, 1);
  t.scrapped = {104};
  CHECK(error_of(t) == "tally-scrapped");
  t.scrapped = {99};
  CHECK(error_of(t) == "tally-scrapped");
  t.scrapped = {100, 101};
  CHECK(error_of(t) == "tally-scrapped");
  t = tally(3, 2);
  t.scrapped = {100, 100};
  CHECK(error_of(t) == "tally-scrapped");
}
