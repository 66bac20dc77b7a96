// Every single write, sync, truncation and removal of the register's files fails once, by itself or
// with all that follow: then a step is done or not done, never half, and the register goes on.
#include <filesystem>

#include <sqlite3.h>

#include "support/faulting_vfs.h"
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;
using test::Change;
using test::Trap;

namespace {

struct Failure {
  int code = SQLITE_IOERR_WRITE;
  bool stays = false;   // everything after fails too, as after a power cut
  std::size_t torn = 0; // bytes of the failing write that are written
};

int code_for(Change change, const Failure& failure) {
  switch (change) {
  case Change::write:
    return failure.code;
  case Change::sync:
    return SQLITE_IOERR_FSYNC;
  case Change::truncate:
    return SQLITE_IOERR_TRUNCATE;
  default:
    return SQLITE_IOERR_DELETE;
  }
}

// Runs `step` on a copy with the `nth` change failing. False when there are fewer changes.
template <class Step>
bool fails_at(const Desk& desk, const io::Path& copy, std::uint64_t nth, const Failure& failure,
              Step step) {
  std::filesystem::remove(copy); // a file that is overwritten is synced by some file systems
  copy_register(desk.path, copy);
  std::uint64_t changes = 0;
  std::string code;
  {
    Register numbers = must(Register::open(io::real_system(), copy, desk.owner));
    test::on_change = [&](Change change) {
      const bool now = changes == nth || (failure.stays && changes > nth);
      const Trap trap =
          now ? Trap{code_for(change, failure), changes == nth ? failure.torn : 0} : Trap{};
      ++changes;
      return trap;
    };
    code = step(numbers);
  }
  test::on_change = nullptr;
  if (changes <= nth) {
    return false;
  }
  INFO("change " << nth << " of " << changes << ", code " << failure.code << ": " << code);
  CHECK((code == "done" || code == "register-io" || code == "register-full"));
  return true;
}

} // namespace

TEST_CASE("whichever change of the register's files fails, a step is done whole or not at all") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 20)));
  const io::Path copy = desk.folder / "copy";
  const Head before = must(desk.open().head());
  const Failure failures[] = {{SQLITE_FULL, false, 0},
                              {SQLITE_FULL, true, 100},
                              {SQLITE_IOERR_WRITE, false, 512},
                              {SQLITE_IOERR_WRITE, true, 1}};
  std::size_t refused = 0;
  for (const Failure& failure : failures) {
    std::uint64_t nth = 0;
    const auto reserve = [](Register& numbers) {
      return code_of(numbers.reserve(request_of(2, 10)));
    };
    for (; fails_at(desk, copy, nth, failure, reserve); ++nth) {
      Register after = must(Register::open(io::real_system(), copy, desk.owner));
      const std::uint64_t entries = must(after.head()).entries;
      INFO("change " << nth);
      CHECK((entries == before.entries || entries == before.entries + 3)); // a lot, two allotments
      refused += entries == before.entries ? 1 : 0;
      CHECK(must(after.check()).empty());
      const auto given = must(after.reserve(request_of(1, 10)));
      CHECK(given[0].range.first == (entries == before.entries ? 120U : 140U));
    }
    CHECK(nth > 10);
  }
  CHECK(refused > 40);
}

TEST_CASE("whichever change fails, what became of a card is noted once or not at all") {
  const Desk desk;
  const format::CardId card = must(desk.open().reserve(request_of(1, 20)))[0].card;
  const io::Path copy = desk.folder / "copy";
  std::size_t refused = 0;
  for (const Failure& failure :
       {Failure{SQLITE_FULL, false, 0}, Failure{SQLITE_IOERR_WRITE, true, 1}}) {
    std::uint64_t nth = 0;
    const auto note = [&](Register& numbers) {
      return code_of(numbers.note_fate(card, {Fate::on_card, "Ines", "x"}));
    };
    for (; fails_at(desk, copy, nth, failure, note); ++nth) {
      INFO("change " << nth);
      Register after = must(Register::open(io::real_system(), copy, desk.owner));
      const std::size_t kept = must(after.fates_of(card)).size();
      CHECK(kept <= 1);
      refused += kept == 0 ? 1 : 0;
      CHECK(must(after.check()).empty());
      const bool again = after.note_fate(card, {Fate::on_card, "Ines", "x"}).has_value();
      CHECK(again == (kept == 0));
    }
    CHECK(nth > 5);
  }
  CHECK(refused > 5);
}

TEST_CASE("whichever change fails, a card is lost and stopped, or neither") {
  const Desk desk;
  Register first = desk.open();
  const Reserved given = must(first.reserve(request_of(1, 20)))[0];
  must(first.seal(given, format::Digest{1}));
  const io::Path copy = desk.folder / "copy";
  std::size_t refused = 0;
  const auto lose = [&](Register& numbers) {
    return code_of(
        numbers.note_lost(given.card, {Fate::lost, "Ines", "x"}, {{given.allotment, {1}, {}, ""}}));
  };
  for (const Failure& failure :
       {Failure{SQLITE_FULL, false, 0}, Failure{SQLITE_IOERR_WRITE, true, 1}}) {
    for (std::uint64_t nth = 0; fails_at(desk, copy, nth, failure, lose); ++nth) {
      INFO("change " << nth);
      Register after = must(Register::open(io::real_system(), copy, desk.owner));
      const std::size_t lost = must(after.fates_of(given.card)).size();
      CHECK(must(after.stops_of(given.card)).size() == lost);
      refused += lost == 0 ? 1 : 0;
      CHECK(must(after.check()).empty());
      CHECK(lose(after) == (lost == 0 ? "done" : "stop-kept"));
    }
  }
  CHECK(refused > 5);
}

TEST_CASE("a full disk is said to be one, and nothing was given") {
  const Desk desk;
  const Head before = must(desk.open().head());
  {
    Register numbers = desk.open();
    test::on_change = [](Change change) {
      return change == Change::write ? Trap{SQLITE_FULL, 0} : Trap{};
    };
    CHECK(code_of(numbers.reserve(request_of(1, 10))) == "register-full");
  }
  test::on_change = nullptr;
  CHECK(must(desk.open().head()).digest == before.digest);
}

TEST_CASE("when a reservation returns, it is on the disk, its folder's entry included") {
  const Desk desk;
  std::vector<Change> changes;
  Register numbers = desk.open();
  test::on_change = [&](Change change) {
    changes.push_back(change);
    return Trap{};
  };
  (void)must(numbers.reserve(request_of(1, 10)));
  test::on_change = nullptr;
  // SQLite, "Atomic Commit In SQLite", 3.7 to 3.11: journal synced, pages written and synced, the
  // journal's removal is the commit; synchronous=EXTRA syncs the folder after it.
  REQUIRE(changes.size() > 4);
  CHECK(changes.back() == Change::remove);
  CHECK(changes[changes.size() - 2] == Change::sync);
  CHECK(std::count(changes.begin(), changes.end(), Change::sync) >= 2);
}
