// Copies of a register: what stands beside it tells an older one, and one that was copied alone.
#include "desk.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

HandRequest by_hand() {
  HandRequest hand;
  hand.scheme = test::id(scheme_name);
  hand.capacity = 1'000'000;
  hand.permitted = windows;
  hand.count = 5;
  hand.note = "repair shop";
  return hand;
}

// Every step that would give, or give up, anything.
void gives_nothing(const Desk& desk, const std::string& code) {
  CHECK(code_of(desk.open().reserve(request_of(1, 10))) == code);
  CHECK(code_of(desk.open().reserve(request_of(1, 10), true)) == code);
  CHECK(code_of(desk.open().take_by_hand(by_hand())) == code);
  CHECK(code_of(desk.open().abandon({test::id(scheme_name), windows, 200, "used"})) == code);
  CHECK(code_of(desk.open().enrol({test::id("orchard-2"), false, std::nullopt, 1})) == code);
  CHECK(code_of(desk.open().add_windows({window_of(1000, 1999)})) == code);
}

} // namespace

TEST_CASE("a register that is set back gives nothing, whatever it gave last") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 20)));
  const io::Path backup = desk.folder / "backup";
  std::filesystem::copy_file(desk.path, backup);
  SECTION("to a card") {
    (void)must(desk.open().reserve(request_of(1, 20)));
  }
  SECTION("by hand") {
    CHECK(must(desk.open().take_by_hand(by_hand())) == Range{120, 5});
  }
  std::filesystem::copy_file(backup, desk.path, std::filesystem::copy_options::overwrite_existing);
  gives_nothing(desk, "register-older");
  REQUIRE(desk.problems().size() == 1);
  CHECK_THAT(desk.problems()[0], ContainsSubstring("without entry"));
}

TEST_CASE("a register without the file beside it is a lone copy and gives nothing") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 20)));
  std::filesystem::remove(head_path(desk.path));
  gives_nothing(desk, "register-older");
  REQUIRE(desk.problems().size() == 1);
  CHECK_THAT(desk.problems()[0], ContainsSubstring("is missing"));
}

TEST_CASE("another register's file beside it, or one that can't be read, is noticed") {
  const Desk desk;
  const Desk other;
  (void)must(desk.open().reserve(request_of(1, 20)));
  (void)must(other.open().reserve(request_of(1, 10)));
  const std::string own = test::text_of_file(head_path(desk.path));
  test::put_file(head_path(desk.path), test::text_of_file(head_path(other.path)));
  gives_nothing(desk, "register-older");
  for (std::size_t size : {std::size_t{0}, own.size() - 1}) {
    test::put_file(head_path(desk.path), own.substr(0, size));
    gives_nothing(desk, "register-head");
  }
  test::put_file(head_path(desk.path), own);
  CHECK(code_of(desk.open().reserve(request_of(1, 10))) == "done");
}

TEST_CASE("an older or lone copy gives up its windows when it meets any card, and then goes on") {
  const Desk desk;
  const auto given = must(desk.open().reserve(request_of(1, 20)));
  std::filesystem::remove(head_path(desk.path));
  const Met met = must(desk.open().meet(evidence_of(given[0], 20), windows));
  CHECK(met.standing == Standing::known);
  CHECK(met.abandoned == 180);
  CHECK(met.problems.size() == 1);
  CHECK(desk.problems().empty());
  CHECK(code_of(desk.open().reserve(request_of(1, 1))) == "window-used-up");
  const auto fresh =
      must(desk.open().reserve(request_of(1, 5, {window_of(100, 299), window_of(1000, 1999)})));
  CHECK(fresh[0].range == Range{1000, 5});
}

TEST_CASE("a step that dies before the file is written leaves a register that goes on") {
  const Desk desk;
  const std::string before = test::text_of_file(head_path(desk.path));
  (void)must(desk.open().reserve(request_of(1, 20)));
  CHECK(test::text_of_file(head_path(desk.path)) != before);
  test::put_file(head_path(desk.path), before);
  CHECK(must(desk.open().reserve(request_of(1, 10)))[0].range == Range{120, 10});
}

TEST_CASE("a scheme that was changed under its id gives nothing") {
  const Desk desk;
  SetRequest set = request_of(1, 20);
  (void)must(desk.open().reserve(set));
  set.capacity = 2'000'000;
  CHECK(code_of(desk.open().reserve(set)) == "done");
  set.definition.fill(1);
  CHECK(code_of(desk.open().reserve(set)) == "scheme-changed");
  HandRequest hand = by_hand();
  hand.definition.fill(1);
  CHECK(code_of(desk.open().take_by_hand(hand)) == "scheme-changed");
  CHECK(desk.problems().empty());
}

TEST_CASE("a station whose allotments are counted out is told so") {
  const Desk desk;
  (void)must(desk.open().enrol({test::id("orchard-2"), false, 999'999, 999'999'999}));
  SetRequest set = request_of(1, 10);
  set.cards[0].station = test::id("orchard-2");
  CHECK(must(desk.open().reserve(set))[0].serial == 999'999'999);
  CHECK(code_of(desk.open().reserve(set)) == "station-serials");
  const auto again = desk.open().enrol({test::id("orchard-2"), true, std::nullopt, 1});
  CHECK(code_of(again) == "station-enrolled");
  CHECK_THAT(describe(again.error()), ContainsSubstring("at most 999999"));
}
