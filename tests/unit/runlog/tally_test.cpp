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
  CHECK(account->bits.begun == io::Bytes{0xFF, 0x0F, 0x00}); // by the counter, which says more
  t.counter_after = t.counter_before + 9;
  account = judge_tally(t, row_of(20));
  REQUIRE(account);
  CHECK(account->used == 9);
  CHECK(account->begun == 11);
  CHECK(account->bits.begun == io::Bytes{0xFF, 0x07, 0x00}); // by the boards
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
  t = tally(3, 0);
  t.issued = UINT64_MAX;
  CHECK(error_of(t) == "tally-boards");
  t.good = UINT64_MAX; // with one scrap more it would wrap
  t.scrap = 1;
  CHECK(error_of(t) == "tally-boards");
}

TEST_CASE("a tally that takes something back from the register is refused") {
  const auto kept_error = [](const Tally& t, const Bits& kept) {
    const auto account = judge_tally(t, row_of(20));
    REQUIRE(account);
    const auto fits = judge_against(*account, kept);
    return fits ? "fits" : fits.error().code;
  };
  Tally t = tally(9, 2);
  t.scrapped = {101, 108};
  const auto first = judge_tally(t, row_of(20));
  REQUIRE(first);
  CHECK(kept_error(t, first->bits) == "fits"); // the same again
  Tally corrected = t;
  corrected.scrapped = {102, 108};
  CHECK(kept_error(corrected, first->bits) == "tally-kept"); // 102 is good there
  corrected.scrapped = {};
  corrected.good = 8;
  corrected.scrap = 3;
  CHECK(kept_error(corrected, first->bits) == "tally-kept"); // nine are good there
  corrected = tally(10, 1);                                  // one of the scrap was good after all
  corrected.scrapped = {101};
  CHECK(kept_error(corrected, first->bits) == "fits");
  CHECK(kept_error(tally(9, 1), first->bits) == "tally-kept"); // eleven were begun
  t.scrapped = {};
  CHECK(kept_error(t, {io::Bytes{0xFF, 0x07, 0}, io::Bytes{0, 0, 0}}) == "fits");
}

TEST_CASE("a tally for a card whose log left a gap is refused") {
  const auto account = judge_tally(tally(11, 0), row_of(20));
  REQUIRE(account);
  const auto fits = judge_against(*account, {io::Bytes{0x3F, 0x01, 0}, io::Bytes{0x3F, 0x01, 0}});
  REQUIRE_FALSE(fits);
  CHECK(fits.error().code == "tally-kept");
  CHECK(fits.error().what.find("log of this card's station") != std::string::npos);
}
