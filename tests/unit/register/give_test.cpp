// Numbers leave a register once: whoever asks, whatever program writes, however often it is asked.
#include <filesystem>
#include <map>

#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

// The first number nobody has yet, of the window that begins at 100.
void insert_by_hand(const Desk& desk, const std::string& first, const std::string& past,
                    const char* rule) {
  const Try<void> done = desk.raw(
      "PRAGMA foreign_keys=OFF; BEGIN; INSERT INTO entry SELECT max(number)+1, 'x', "
      "zeroblob(32), '' FROM entry; INSERT INTO range(window, first, past, use, note, entry) "
      "SELECT 1, " +
      first + ", " + past + ", 'hand', '', max(number) FROM entry; COMMIT;");
  INFO(first << " to " << past);
  REQUIRE_FALSE(done.has_value());
  CHECK(done.error().code == "register-constraint");
  CHECK_THAT(done.error().found, ContainsSubstring(rule));
}

Enrolled enrol(const Desk& desk, const char* station) {
  return must(desk.open().enrol({test::id(station), false, std::nullopt, 1}));
}

} // namespace

TEST_CASE("cards of one step get numbers one after the other, and the next step goes on behind") {
  const Desk desk;
  const auto first = must(desk.open().reserve(request_of(3, 20)));
  const auto second = must(desk.open().reserve(request_of(1, 7)));
  REQUIRE(first.size() == 3);
  CHECK(first[0].range == Range{100, 20});
  CHECK(first[1].range == Range{120, 20});
  CHECK(first[2].range == Range{140, 20});
  CHECK(second[0].range == Range{160, 7});
  CHECK(second[0].serial == 4);
  CHECK(first[0].card != first[1].card);
  CHECK(desk.problems().empty());
}

TEST_CASE("a step that asks for too much gives nothing at all") {
  const Desk desk;
  CHECK(code_of(desk.open().reserve(request_of(3, 67))) == "window-used-up");
  CHECK(desk.number("SELECT count(*) FROM range") == 0);
  CHECK(must(desk.open().reserve(request_of(1, 200)))[0].range == Range{100, 200});
  CHECK(code_of(desk.open().reserve(request_of(1, 1))) == "window-used-up");
}

TEST_CASE("no SQL makes ranges overlap, leave a gap or pass the window, foreign keys off") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 20)));
  const char* const follows = "does not begin where the last one ended";
  insert_by_hand(desk, "100", "120", follows);
  insert_by_hand(desk, "110", "130", follows);
  insert_by_hand(desk, "119", "121", follows);
  insert_by_hand(desk, "121", "125", follows);
  insert_by_hand(desk, "NULL", "100", "CHECK");
  insert_by_hand(desk, "120", "120", "CHECK");
  insert_by_hand(desk, "120", "301", "past its window");
  CHECK(desk.problems().empty());
}

TEST_CASE("no SQL changes or removes what stands in a register") {
  const Desk desk;
  Register numbers = desk.open();
  const auto given = must(numbers.reserve(request_of(1, 16)));
  must(numbers.seal(given[0], format::Digest{}));
  must(numbers.written(given[0].allotment));
  const io::Bytes bits(2, 0x0F);
  must(numbers.add_outcome(given[0].allotment, bits, bits));
  (void)must(
      numbers.meet(evidence_of({9, {1}, 1, 50, {250, 5}, {}}, 5, 1, false), {window_of(100, 299)}));
  for (const std::string table : {"entry", "owner", "window", "range", "enrolment", "lot",
                                  "allotment", "sealing", "written", "met", "tally", "outcome"}) {
    INFO(table);
    REQUIRE(desk.number(("SELECT count(*) FROM " + table).c_str()) > 0);
    CHECK(code_of(desk.raw("DELETE FROM " + table)) == "register-constraint");
  }
  for (const std::string change :
       {"range SET past = past + 1", "range SET use = 'hand'", "allotment SET serial = serial + 1",
        "entry SET body = 'x'", "window SET last = last + 1", "tally SET units = units - 1",
        "enrolment SET number = 2", "lot SET quantity = 1", "sealing SET text = zeroblob(32)",
        "written SET entry = 1", "owner SET digest = zeroblob(32)", "met SET serial = 1",
        "outcome SET begun_count = 0, entry = entry + 1", "outcome SET begun = zeroblob(1)"}) {
    INFO(change);
    CHECK(code_of(desk.raw("UPDATE " + change)) == "register-constraint");
  }
  CHECK(desk.problems().empty());
}

TEST_CASE("windows of one scheme that share numbers can't stand in a register") {
  const Desk desk;
  CHECK(must(desk.open().add_windows({window_of(100, 299)})) == 1);
  CHECK(code_of(desk.raw("PRAGMA foreign_keys=OFF; INSERT INTO window(key, scheme, first, last, "
                         "entry) VALUES(zeroblob(32), 'fn-serial', 299, 400, 1)")) ==
        "register-constraint");
  // A grown window is taken over as what is new of it.
  CHECK(must(desk.open().add_windows({window_of(100, 299)})) == 0);
  CHECK(must(desk.open().add_windows({window_of(50, 349)})) == 2);
  CHECK(desk.problems().empty());
}

TEST_CASE("two desks never give one number, and neither gives one outside its window") {
  const Desk a;
  const Desk b;
  Register desks[] = {a.open(), b.open()};
  const std::vector<format::Window> windows[] = {{window_of(0, 39, 1), window_of(100, 139, 1)},
                                                 {window_of(40, 99, 2)}};
  std::map<std::uint64_t, int> given;
  for (std::uint32_t turn = 0; turn < 60; ++turn) {
    const std::size_t desk = turn % 2;
    const auto got = desks[desk].reserve(request_of(1, 1 + turn % 5, windows[desk]));
    if (!got) {
      CHECK(got.error().code == "window-used-up");
      continue;
    }
    for (std::uint64_t n = got->front().range.first; n < got->front().range.past(); ++n) {
      CHECK(++given[n] == 1);
      CHECK((n >= 40 && n < 100) == (desk == 1));
    }
  }
  CHECK(given.size() > 130);
}

TEST_CASE("a window that the list gives to somebody else now is not used further") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 10)));
  CHECK(code_of(desk.open().reserve(request_of(1, 10, {}))) == "window-none");
  CHECK(code_of(desk.open().reserve(request_of(1, 10, {window_of(100, 115)}))) == "window-used-up");
  CHECK(must(desk.open().reserve(request_of(1, 6, {window_of(100, 115)})))[0].range ==
        Range{110, 6});
}

TEST_CASE("quality's limits hold over all cards of a release") {
  const Desk desk;
  (void)enrol(desk, "orchard-2");
  SetRequest set = request_of(2, 20);
  set.limits.units_a_station.set(50);
  set.limits.stations.set(1);
  (void)must(desk.open().reserve(set));
  CHECK(code_of(desk.open().reserve(set)) == "limit-units");
  set.cards.resize(1);
  set.cards[0].units = 10;
  (void)must(desk.open().reserve(set));
  set.cards[0].units = 1;
  CHECK(code_of(desk.open().reserve(set)) == "limit-units");
  set.cards[0].station = test::id("orchard-2");
  CHECK(code_of(desk.open().reserve(set)) == "limit-stations");
  set.manifest.fill(8); // another release counts by itself
  (void)must(desk.open().reserve(set));
  set.limits.numbers.set({100, 150});
  CHECK(code_of(desk.open().reserve(set)) == "limit-numbers"); // 151 is next
  set.limits.numbers.set({160, 170});
  CHECK(code_of(desk.open().reserve(set)) == "limit-numbers");
  AbandonRequest before{test::id(scheme_name), {window_of(100, 299)}, 160, "quality begins at 160"};
  CHECK(must(desk.open().abandon(before, true)) == 9);
  CHECK(must(desk.open().abandon(before)) == 9);
  CHECK(must(desk.open().abandon(before)) == 0);
  before.before = 301; // past the window
  CHECK(code_of(desk.open().abandon(before)) == "window-past");
  before.scheme = test::id("fn-serail");
  CHECK(code_of(desk.open().abandon(before)) == "window-none");
  CHECK(desk.problems().empty());
}

TEST_CASE("a rehearsal says what would come, and changes nothing") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 5)));
  const Head before = must(desk.open().head());
  const auto would = must(desk.open().reserve(request_of(2, 20), true));
  CHECK(must(desk.open().head()).digest == before.digest);
  CHECK(desk.number("SELECT count(*) FROM allotment") == 1);
  const auto came = must(desk.open().reserve(request_of(2, 20)));
  CHECK(came[1].range == would[1].range);
  CHECK(came[1].entry == would[1].entry);
}

TEST_CASE("the same steps give the same entries whatever the time") {
  const Desk a;
  const Desk b;
  const auto one = must(a.open().reserve(request_of(2, 20)));
  (void)b.raw("PRAGMA user_version"); // opened once more: no part of the history
  const auto two = must(b.open().reserve(request_of(2, 20)));
  CHECK(one[1].entry == two[1].entry);
  CHECK(one[1].card == two[1].card);
}

TEST_CASE("a station that is enrolled again goes on with higher numbers of both kinds") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(2, 5)));
  CHECK(code_of(desk.open().enrol({test::id("orchard-1"), false, {}, 1})) == "station-enrolled");
  CHECK(code_of(desk.open().enrol({test::id("nobody"), true, {}, 1})) == "station-unknown");
  CHECK(code_of(desk.open().enrol({test::id("orchard-1"), true, 1, 1})) == "station-enrolled");
  CHECK(must(desk.open().enrol({test::id("orchard-1"), true, {}, 1})).enrolment == 2);
  const auto given = must(desk.open().reserve(request_of(1, 5)));
  CHECK(given[0].enrolment == 2);
  CHECK(given[0].serial == 3);
}

TEST_CASE("steps of an allotment are taken once and in order") {
  const Desk desk;
  Register numbers = desk.open();
  const auto given = must(numbers.reserve(request_of(2, 5)));
  CHECK(code_of(numbers.written(given[0].allotment)) == "state-order");
  CHECK(code_of(numbers.seal(Reserved{99, {}, 1, 1, {}, given[0].entry}, format::Digest{})) ==
        "state-order");
  int kept = 0;
  const auto keep = [&](bool newest) -> Try<void> {
    kept += newest ? 1 : 0;
    return {};
  };
  must(numbers.seal(given[1], format::Digest{}, keep));
  must(numbers.seal(given[0], format::Digest{}, keep)); // reserved before: not the newest
  CHECK(kept == 1);
  // The file was set back meanwhile: another reservation stands under this number.
  Reserved other = must(numbers.reserve(request_of(1, 5)))[0];
  other.entry = given[0].entry;
  CHECK(code_of(numbers.seal(other, format::Digest{}, keep)) == "state-order");
  CHECK(code_of(numbers.seal(given[0], format::Digest{})) == "state-order");
  must(numbers.written(given[0].allotment));
  CHECK(code_of(numbers.written(given[0].allotment)) == "state-order");
}

TEST_CASE("results are joined: a unit once begun or good stays so") {
  const Desk desk;
  Register numbers = desk.open();
  const std::uint64_t id = must(numbers.reserve(request_of(1, 11)))[0].allotment;
  const auto add = [&](std::uint8_t begun, std::uint8_t begun_high, std::uint8_t good) {
    return numbers.add_outcome(id, io::Bytes{begun, begun_high}, io::Bytes{good, 0});
  };
  const auto counted = [&] {
    std::pair<std::uint64_t, std::uint64_t> counts;
    must(numbers.each_allotment([&](const AllotmentRow& row) { counts = {row.begun, row.good}; }));
    return counts;
  };
  must(add(0b11, 0b100, 0b01));
  CHECK(counted() == std::pair<std::uint64_t, std::uint64_t>{3, 1});
  must(add(0b110, 0, 0b100));
  CHECK(counted() == std::pair<std::uint64_t, std::uint64_t>{4, 2});
  const Head before = must(numbers.head());
  must(add(0b1, 0, 0)); // an older log says less, and takes nothing back
  CHECK(must(numbers.head()).entries == before.entries);
  CHECK(counted() == std::pair<std::uint64_t, std::uint64_t>{4, 2});
  CHECK(code_of(add(0b1, 0b1000, 0)) == "outcome-form"); // a twelfth unit
  CHECK(code_of(add(0b1, 0, 0b10)) == "outcome-form");   // good, but not begun
  CHECK(code_of(numbers.add_outcome(id, io::Bytes{1}, io::Bytes{1})) == "outcome-form");
  CHECK(code_of(numbers.add_outcome(77, io::Bytes{1}, io::Bytes{1})) == "outcome-form");
  CHECK(desk.problems().empty());
}

TEST_CASE("a register is another owner's, another version's or no register") {
  const Desk desk;
  format::Digest other{};
  CHECK(code_of(Register::open(io::real_system(), desk.path, other)) == "register-owner");
  CHECK(code_of(Register::create(io::real_system(), desk.path, other)) == "output-exists");
  CHECK(code_of(Register::open(io::real_system(), desk.folder / "none", other)) ==
        "register-missing");
  for (const char* version : {"PRAGMA user_version=3", "PRAGMA user_version=7"}) {
    REQUIRE(desk.raw(version).has_value());
    CHECK(code_of(Register::open(io::real_system(), desk.path, desk.owner)) == "register-version");
  }
  REQUIRE(desk.raw("PRAGMA application_id=1").has_value());
  CHECK(code_of(Register::open(io::real_system(), desk.path, desk.owner)) == "register-form");
}

TEST_CASE("a register that another program holds is waited for and then named busy") {
  const Desk desk;
  Database holder = must(Database::open(desk.path, Access::existing, 0));
  REQUIRE(holder.execute("BEGIN IMMEDIATE").has_value());
  Register waiting = must(Register::open(io::real_system(), desk.path, desk.owner, 30));
  CHECK(code_of(waiting.reserve(request_of(1, 1))) == "register-busy");
  REQUIRE(holder.execute("COMMIT").has_value());
  CHECK(waiting.reserve(request_of(1, 1)).has_value());
}

TEST_CASE("what becomes of a card is noted in the order in which it can happen") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 16)))[0];
  const auto note = [&](Fate fate) {
    Try<void> noted = numbers.note_fate(given.card, {fate, "Ines Alder", "said on the phone"});
    return noted ? std::string("noted") : noted.error().code;
  };
  using enum Fate;
  const std::vector<std::pair<Fate, const char*>> story{
      {on_card, "noted"},       {on_card, "fate-order"},   {lost, "noted"},
      {lost, "fate-order"},     {on_card, "fate-order"},   {returned, "noted"},
      {on_card, "fate-order"},  {destroyed, "noted"},      {returned, "fate-order"},
      {lost, "fate-order"},     {destroyed, "fate-order"}, {erased, "fate-order"},
      {on_card, "noted"},       {erased, "noted"},         {lost, "fate-order"},
      {returned, "fate-order"}, {erased, "fate-order"},    {on_card, "noted"}};
  std::vector<Fate> kept;
  for (const auto& [fate, said] : story) {
    INFO(fate_words[static_cast<std::size_t>(fate)]);
    CHECK(note(fate) == said);
    if (std::string_view(said) == "noted") {
      kept.push_back(fate);
    }
  }
  std::vector<Fate> read;
  for (const FateRow& row : must(numbers.fates_of(given.card))) {
    CHECK(row.note.by == "Ines Alder");
    read.push_back(row.note.fate);
  }
  CHECK(read == kept);
  CHECK(desk.problems().empty());
  must(numbers.each_allotment([](const AllotmentRow& row) { CHECK(row.fate == Fate::on_card); }));
}

TEST_CASE("a card that this register did not make, and words that can't be kept, are refused") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 16)))[0];
  CHECK(code_of(numbers.note_fate({1, 2, 3}, {Fate::lost, "Ines", "x"})) == "card-unknown");
  CHECK(code_of(numbers.fates_of({1, 2, 3})) == "card-unknown");
  for (const std::string& words : {std::string(), std::string(97, 'x'), std::string("a\nb")}) {
    CHECK(code_of(numbers.note_fate(given.card, {Fate::lost, words, "x"})) == "note-form");
    CHECK(code_of(numbers.note_fate(given.card, {Fate::lost, "Ines", words})) == "note-form");
  }
  CHECK(numbers.note_fate(given.card, {Fate::lost, "Ines", "x"}, true).has_value());
  CHECK(must(numbers.fates_of(given.card)).empty());
}

TEST_CASE("two cards of one image: the table itself refuses") {
  const Desk desk;
  const format::CardId card = [&] {
    Register numbers = desk.open();
    const Reserved given = must(numbers.reserve(request_of(1, 16)))[0];
    must(numbers.note_fate(given.card, {Fate::on_card, "Ines", "x"}));
    return given.card;
  }();
  CHECK(must(desk.open().fates_of(card)).size() == 1);
  CHECK(!desk.raw("INSERT INTO fate SELECT 9, allotment, what, said_by, note, 1 FROM fate"));
}

TEST_CASE("a card is counted when results were kept after it came back") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 8)))[0];
  const auto row = [&] {
    AllotmentRow out;
    must(numbers.each_allotment([&](const AllotmentRow& each) { out = each; }));
    return out;
  };
  const auto note = [&](Fate fate) { must(numbers.note_fate(given.card, {fate, "Ines", "x"})); };
  note(Fate::on_card);
  must(numbers.add_outcome(given.allotment, io::Bytes{3}, io::Bytes{1}));
  CHECK_FALSE(row().counted_after_return);
  note(Fate::returned);
  CHECK_FALSE(row().counted_after_return);
  must(numbers.add_outcome(given.allotment, io::Bytes{3}, io::Bytes{1})); // the same once more
  CHECK(row().counted_after_return);
  const std::uint64_t entries = must(numbers.head()).entries;
  must(numbers.add_outcome(given.allotment, io::Bytes{3}, io::Bytes{1}));
  CHECK(must(numbers.head()).entries == entries); // and never again
  CHECK_FALSE(row().rewritten);
  note(Fate::erased);
  CHECK_FALSE(row().counted_after_return);
  CHECK(row().rewritten);
  // Units were begun: a station that reads plain files would begin with the first number again.
  CHECK(code_of(numbers.note_fate(given.card, {Fate::on_card, "Ines", "x"})) == "card-used");
  CHECK(desk.problems().empty());
}

TEST_CASE("a card is lost and stopped in one step, or neither") {
  const Desk desk;
  Register numbers = desk.open();
  const std::vector<Reserved> given = must(numbers.reserve(request_of(3, 4)));
  must(numbers.seal(given[0], format::Digest{1}));
  must(numbers.seal(given[1], format::Digest{2}));
  const FateNote note{Fate::lost, "Ines Alder", "not in the box"};
  const auto stop = [&](std::size_t card) { return Stop{given[card].allotment, {1}, {}, ""}; };
  const auto lose = [&](std::size_t card, std::vector<Stop> stops, bool rehearse = false) {
    return code_of(numbers.note_lost(given[card].card, note, stops, rehearse));
  };
  const std::uint64_t entries = must(numbers.head()).entries;
  CHECK(lose(2, {}) == "stop-none"); // nothing was signed for it
  CHECK(lose(0, {}) == "stop-form");
  CHECK(lose(0, {stop(1)}) == "stop-form");
  CHECK(lose(0, {stop(0), stop(1)}) == "stop-form");
  CHECK(lose(0, {stop(0)}, true) == "done");
  CHECK(must(numbers.head()).entries == entries);
  CHECK(must(numbers.fates_of(given[0].card)).empty());

  CHECK(lose(0, {stop(0)}) == "done");
  CHECK(must(numbers.fates_of(given[0].card)).back().note.fate == Fate::lost);
  CHECK(must(numbers.stops_of(given[0].card)).size() == 1);
  CHECK(must(numbers.allotments_on(given[0].card)).front().stopped);
  CHECK_FALSE(must(numbers.allotments_on(given[1].card)).front().stopped);
  CHECK(lose(0, {stop(0)}) == "stop-kept");

  must(numbers.note_fate(given[1].card, note)); // lost before, and stopped now
  CHECK(lose(1, {stop(1)}) == "done");
  CHECK(must(numbers.fates_of(given[1].card)).size() == 1);
  CHECK_FALSE(desk.raw("UPDATE stop SET text = x'02'").has_value());
  CHECK_FALSE(desk.raw("DELETE FROM stop").has_value());
  CHECK(desk.problems().empty());
}

TEST_CASE("a card that was destroyed is not lost") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 4)))[0];
  must(numbers.seal(given, format::Digest{1}));
  must(numbers.note_fate(given.card, {Fate::destroyed, "Ines Alder", "cut up"}));
  CHECK(code_of(numbers.note_lost(given.card, {Fate::lost, "Ines Alder", "gone"},
                                  {{given.allotment, {1}, {}, ""}})) == "fate-order");
  CHECK(must(numbers.stops_of(given.card)).empty());
}

TEST_CASE("a card that replaced a destroyed one never counts as complete") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 8)))[0];
  for (const Fate fate : {Fate::on_card, Fate::destroyed, Fate::on_card, Fate::returned}) {
    must(numbers.note_fate(given.card, {fate, "Ines", "x"}));
  }
  must(numbers.add_outcome(given.allotment, io::Bytes{1}, io::Bytes{1}));
  must(numbers.each_allotment([](const AllotmentRow& row) {
    CHECK_FALSE(row.counted_after_return); // what the first one did nobody wrote down
    CHECK(row.rewritten);
  }));
}

TEST_CASE(
    "several packages share the cards of one step, each with numbers and results of its own") {
  const Desk desk;
  SetRequest other = request_of(2, 7);
  other.manifest.fill(8);
  Register numbers = desk.open();
  const auto cards = must(numbers.reserve_together({request_of(2, 16), other}));
  REQUIRE(cards.size() == 2);
  CHECK(cards[0][0].card == cards[0][1].card);
  CHECK(cards[0][0].card != cards[1][0].card);
  CHECK(cards[0][0].range == Range{100, 16}); // card by card
  CHECK(cards[0][1].range == Range{116, 7});
  CHECK(cards[1][0].range == Range{123, 16});
  CHECK(cards[1][1].serial == 4);
  must(numbers.note_fate(cards[0][1].card, {Fate::on_card, "Ines", "x"}));
  must(numbers.add_outcome(cards[0][1].allotment, io::Bytes{3}, io::Bytes{1}));
  must(numbers.note_fate(cards[0][1].card, {Fate::erased, "Ines", "x"}));
  std::vector<AllotmentRow> rows;
  must(numbers.each_allotment([&](const AllotmentRow& row) { rows.push_back(row); }));
  REQUIRE(rows.size() == 4);
  CHECK(rows[0].jobs_on_card == 2);
  CHECK(rows[0].units_before == 0);
  CHECK(rows[1].units_before == 16);
  CHECK(rows[0].fate == Fate::erased); // what becomes of a card becomes of all that is on it
  CHECK(rows[1].fate == Fate::erased);
  CHECK(rows[1].rewritten);
  CHECK_FALSE(rows[2].fate.has_value());
  // Units of the second package were begun.
  CHECK(code_of(numbers.note_fate(cards[0][0].card, {Fate::on_card, "Ines", "x"})) == "card-used");
  CHECK(desk.problems().empty());
}

TEST_CASE("no SQL puts a further allotment on a card of another station or on one that is sealed") {
  const Desk desk;
  Register numbers = desk.open();
  const Reserved given = must(numbers.reserve(request_of(1, 16)))[0];
  const std::string insert =
      "INSERT INTO entry SELECT max(number)+1, 'x', zeroblob(32), '' FROM entry; INSERT INTO "
      "lot SELECT 9, 'x', 'x', zeroblob(32), 'x', 1, max(number) FROM entry; INSERT INTO entry "
      "SELECT max(number)+1, 'x', zeroblob(32), '' FROM entry; INSERT INTO allotment SELECT 9, ";
  const auto refused = [&](const std::string& lot, const std::string& station) {
    const Try<void> done =
        desk.raw(("BEGIN; " + insert + lot + ", NULL, card, '" + station +
                  "', 1, 900, 1, 1, NULL, 0, (SELECT max(number) FROM entry) FROM allotment; "
                  "ROLLBACK;")
                     .c_str());
    return done ? std::string() : done.error().found;
  };
  CHECK(refused("9", "orchard-1").empty()); // before it is sealed, another lot's
  CHECK_THAT(refused("1", "orchard-1"), ContainsSubstring("UNIQUE"));
  CHECK_THAT(refused("9", "bench-9"), ContainsSubstring("for one station"));
  must(numbers.seal(given, format::Digest{}));
  CHECK_THAT(refused("9", "orchard-1"), ContainsSubstring("made once"));
}

TEST_CASE("packages that share cards have as many cards each") {
  const Desk desk;
  SetRequest other = request_of(1, 7);
  other.manifest.fill(8);
  CHECK(code_of(desk.open().reserve_together({request_of(2, 16), other})) == "set-uneven");
  CHECK(desk.number("SELECT count(*) FROM range") == 0);
}
