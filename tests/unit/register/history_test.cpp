// A history that was changed, cut or set back is found: by `check` within the file, by `meet`
// against what left the desk.
#include <filesystem>
#include <fstream>

#include "crypto/sha256.h"
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

// Every trigger away, the change, every trigger back: somebody who knows SQL.
void damage(const io::Path& path, const std::string& sql) {
  Database database = must(Database::open(path, Access::existing, 1000));
  std::string drop;
  std::string back;
  {
    Query query = must(database.query("SELECT name, sql FROM sqlite_schema WHERE type='trigger'"));
    while (must(query.next())) {
      drop += "DROP TRIGGER " + query.text(0) + ";";
      back += query.text(1) + ";";
    }
  }
  must(database.execute(
      ("PRAGMA foreign_keys=OFF; PRAGMA ignore_check_constraints=ON;" + drop + sql + ";" + back)
          .c_str()));
}

struct Full : Desk { // one row at least in every table
  Full() {
    Register numbers = open();
    OrderRow order;
    order.work_order = "WO-1";
    order.work_class = "production";
    order.manifest.fill(7);
    order.product = "frost-node";
    order.quantity = 48;
    order.bytes = {'<', 'x', '/', '>'};
    order.file = crypto::sha256(order.bytes);
    must(numbers.enter_order(order));
    SetRequest request = request_of(3, 16);
    request.place = "1";
    given = must(numbers.reserve(request));
    must(numbers.seal(given[0], format::Digest{5}));
    must(numbers.written(given[0].allotment));
    must(numbers.note_fate(given[0].card, {Fate::on_card, "Ines Alder", "CARD 77"}));
    must(numbers.add_outcome(given[0].allotment, io::Bytes(2, 1), io::Bytes(2, 0)));
    must(numbers.add_outcome(given[0].allotment, io::Bytes(2, 3), io::Bytes(2, 1)));
    must(numbers.note_fate(given[0].card, {Fate::returned, "Ines Alder", "with the boards"}));
    must(numbers.seal(given[1], format::Digest{6}));
    must(numbers.note_lost(given[1].card, {Fate::lost, "Ines Alder", "not in the box"},
                           {{given[1].allotment, {1, 2}, {}, ""}}));
    order.work_order = "WO-2";
    order.work_class = "rework";
    order.parent = "WO-1";
    order.bytes = {};
    must(numbers.enter_order(order));
    SetRequest again = request_of(1, 4);
    again.work_order = test::text<24>("WO-2");
    again.work_class = format::WorkClass::rework;
    again.place = "1";
    again.scheme = {}; // so that the numbers below stay what they are
    const std::uint64_t now = must(numbers.reserve(again))[0].allotment;
    must(numbers.add_outcome(now, io::Bytes{1}, io::Bytes{1}));
    must(numbers.settle(
        {given[0].allotment, {1, 1}, Settled::reworked, "floor", "cut up", "", {{now, 0}}}));
    must(numbers.note_labels(
        {{given[0].allotment, {0, 4}, LabelFate::printed, "print room", "x", ""}}));
    Statement statement;
    statement.kind = StatementKind::closure;
    statement.work_order = "WO-1";
    statement.text = {1, 2, 3};
    must(numbers.keep_statement(statement));
    HandRequest hand;
    hand.scheme = test::id(scheme_name);
    hand.permitted = windows;
    hand.count = 5;
    hand.note = "repair shop";
    CHECK(must(numbers.take_by_hand(hand)) == Range{148, 5});
    CHECK(must(numbers.meet(evidence_of({9, {1}, 1, 50, {155, 5}, {}}, 5, 1, false), windows))
              .abandoned == 7);
  }
  std::vector<Reserved> given;
};

} // namespace

TEST_CASE("check finds every kind of damage that SQL can do") {
  const std::pair<const char*, const char*> damages[] = {
      {"UPDATE entry SET body = body || 'x' WHERE number = 4", "digest does not cover"},
      {"UPDATE entry SET digest = zeroblob(32) WHERE number = 5", "entry 5: the digest"},
      {"DELETE FROM entry WHERE number = 6", "entry 6 is missing"},
      {"DELETE FROM entry WHERE number = (SELECT max(number) FROM entry)", "entry"},
      {"UPDATE owner SET digest = zeroblob(32)", "owner: the row differs"},
      {"UPDATE window SET last = 500", "window: the row differs"},
      {"DELETE FROM range WHERE use = 'hand'", "should begin at"},
      {"UPDATE range SET use = 'abandon' WHERE use = 'hand'", "range: the row differs"},
      {"UPDATE range SET note = 'x' WHERE use = 'hand'", "range: the row differs"},
      {"UPDATE range SET past = past + 1 WHERE first = 148", "should begin at"},
      {"UPDATE range SET past = 301 WHERE first = 153", "past its window"},
      {"INSERT INTO range SELECT 99, 1, 110, 120, 'hand', '', 1", "should begin at"},
      {"INSERT INTO window SELECT 9, key, scheme, 299, 400, 2 FROM window", "share number 299"},
      {"UPDATE enrolment SET number = 7", "enrolment: the row differs"},
      {"UPDATE lot SET quantity = quantity + 1", "lot order: the row differs"},
      {"DELETE FROM lot", "names what is not there"},
      {"UPDATE allotment SET station = 'orchard-2' WHERE id = 1", "allotment: the row differs"},
      {"UPDATE allotment SET units = units - 1 WHERE id = 3", "allotment: the row differs"},
      {"DELETE FROM allotment WHERE id = 3", "what it made is not there"},
      {"UPDATE sealing SET text = zeroblob(32)", "sealed text: the row differs"},
      {"DELETE FROM sealing", "what it made is not there"},
      {"DELETE FROM written", "what it made is not there"},
      {"DELETE FROM outcome", "what it made is not there"},
      {"UPDATE outcome SET begun = x'ff01'", "counts differ from the bits"},
      {"UPDATE outcome SET good = x'0000', good_count = 0", "results: the row differs"},
      {"UPDATE outcome SET entry = entry - 1", "results: entry"},
      {"UPDATE fate SET said_by = 'x'", "what became of a card: the row differs"},
      {"UPDATE fate SET what = 'lost'", "what became of a card: the row differs"},
      {"DELETE FROM fate", "what it made is not there"},
      {"UPDATE order_file SET bytes = x'00'", "order's file: entry 4 names other bytes"},
      {"DELETE FROM order_file", "what it made is not there"},
      {"UPDATE label SET past = 3", "labels: the row differs"},
      {"DELETE FROM label", "what it made is not there"},
      {"UPDATE rework SET now_unit = 1", "new number of a board: the row differs"},
      {"DELETE FROM rework", "what it made is not there"},
      {"UPDATE stop SET text = x'00'", "stop of an allotment: the row differs"},
      {"DELETE FROM stop", "what it made is not there"},
      {"UPDATE work_order SET quantity = 49", "work order: the row differs"},
      {"UPDATE work_order SET first_article = 1", "work order: the row differs"},
      {"DELETE FROM work_order", "what it made is not there"},
      {"UPDATE place SET name = '2'", "place in an order: the row differs"},
      {"DELETE FROM place", "what it made is not there"},
      {"UPDATE settled SET what = 'scrapped'", "settled units: the row differs"},
      {"UPDATE settled SET past = past + 1", "settled units: the row differs"},
      {"DELETE FROM settled", "what it made is not there"},
      {"UPDATE statement SET text = x'00'", "signed statement: the row differs"},
      {"UPDATE statement SET signature = CAST(zeroblob(63) || x'01' AS BLOB)",
       "signed statement: the row differs"},
      {"DELETE FROM statement", "what it made is not there"},
      {"UPDATE met SET serial = 1", "met: the row differs"},
      {"DELETE FROM met", "what it made is not there"},
      {"UPDATE tally SET units = units + 1", "count of orchard-1"},
      {"DELETE FROM tally", "count of orchard-1: none"},
      {"INSERT INTO tally VALUES(zeroblob(32), 'x', 1)", "count of x"},
      {"DROP INDEX met_station", "rule met_station: gone"},
      {"CREATE TRIGGER more AFTER INSERT ON tally BEGIN SELECT 1; END", "rule more"},
  };
  const Full sound;
  REQUIRE(sound.problems().empty());
  for (const auto& [sql, words] : damages) {
    const io::Path path = sound.folder / "damaged";
    std::filesystem::remove(path);
    std::filesystem::copy_file(sound.path, path);
    damage(path, sql);
    std::string all;
    for (const std::string& problem :
         must(must(Register::open(io::real_system(), path, std::nullopt)).check())) {
      all += problem + "\n";
    }
    INFO(sql);
    CHECK_THAT(all, ContainsSubstring(words));
  }
}

TEST_CASE("a rule that is gone is found") {
  const Full desk;
  must(desk.raw("DROP TRIGGER range_kept"));
  REQUIRE(desk.problems().size() == 1);
  CHECK(desk.problems()[0] == "rule range_kept: gone");
}

TEST_CASE("a changed byte of the file is found or changes nothing that is kept") {
  const Full desk;
  std::ifstream in(desk.path, std::ios::binary);
  const std::string whole{std::istreambuf_iterator<char>(in), {}};
  std::size_t found = 0;
  std::size_t tried = 0;
  for (std::size_t at = 100; at < whole.size(); at += 997) { // a prime: every place in a page
    std::string changed = whole;
    changed[at] = static_cast<char>(changed[at] ^ 0x55);
    const io::Path path = desk.folder / "changed";
    std::filesystem::remove(path);
    std::ofstream(path, std::ios::binary) << changed;
    Try<Register> opened = Register::open(io::real_system(), path, desk.owner);
    const bool noticed = !opened || [&] {
      Try<std::vector<std::string>> problems = opened->check();
      return !problems || !problems->empty();
    }();
    ++tried;
    found += noticed ? 1 : 0;
    if (!noticed) { // free space, or the claimed time: every row is as it was
      INFO(at);
      CHECK(must(opened->head()).digest == must(desk.open().head()).digest);
    }
  }
  CHECK(tried > 50);
  CHECK(found > 0);
}

TEST_CASE("an older copy of a register gives up its window when it meets a newer card") {
  const Desk desk;
  (void)must(desk.open().reserve(request_of(1, 20)));
  const io::Path backup = desk.folder / "backup";
  copy_register(desk.path, backup);
  const auto later = must(desk.open().reserve(request_of(2, 10)));

  Register restored = must(Register::open(io::real_system(), backup, desk.owner));
  const Met met = must(restored.meet(evidence_of(later[0], 10), windows));
  CHECK(met.standing == Standing::missing);
  CHECK(met.abandoned == 180);
  CHECK(met.problems.empty());
  CHECK(code_of(restored.reserve(request_of(1, 1))) == "window-used-up");
  // The other lost card says nothing new, and the same card again neither.
  CHECK(must(restored.meet(evidence_of(later[1], 10), windows)).abandoned == 0);
  CHECK(must(restored.meet(evidence_of(later[0], 10), windows)).abandoned == 0);
  CHECK(must(restored.check()).empty());
  // A window that the owner adds then is used, with serials above those met.
  const auto fresh =
      must(restored.reserve(request_of(1, 5, {window_of(100, 299), window_of(1000, 1999)})));
  CHECK(fresh[0].range == Range{1000, 5});
  CHECK(fresh[0].serial > later[1].serial);
}

TEST_CASE("a copy that gave other numbers in the meantime says which were given twice") {
  const Desk desk;
  const io::Path copy = desk.folder / "copy";
  copy_register(desk.path, copy);
  const auto here = must(desk.open().reserve(request_of(1, 20)));
  Register other = must(Register::open(io::real_system(), copy, desk.owner));
  (void)must(other.reserve(request_of(1, 15)));
  const Met met = must(other.meet(evidence_of(here[0], 20), windows));
  CHECK(met.standing == Standing::missing);
  REQUIRE(met.problems.size() == 1);
  CHECK_THAT(met.problems[0], ContainsSubstring("numbers 100 to 114"));
}

TEST_CASE("a card of this register, of another desk and of before there was a register differ") {
  const Desk desk;
  Register numbers = desk.open();
  const auto given = must(numbers.reserve(request_of(1, 20)));
  CHECK(must(numbers.meet(evidence_of(given[0], 20), windows)).standing == Standing::known);
  must(numbers.seal(given[0], format::Digest{1}));
  CHECK(must(numbers.meet(evidence_of(given[0], 20), windows)).problems.size() == 1); // other text

  Evidence other = evidence_of({1, {2}, 1, 60, {500, 10}, {}}, 10, 2);
  CHECK(must(numbers.meet(other, windows)).standing == Standing::other_desk);
  CHECK(must(numbers.windows())[0].next == 120);

  const Met by_hand =
      must(numbers.meet(evidence_of({1, {3}, 4, 61, {150, 10}, {}}, 10, 1, false), windows));
  CHECK(by_hand.standing == Standing::by_hand);
  CHECK(by_hand.abandoned == 40); // from 120 on: the register goes on behind it
  const auto next = must(numbers.reserve(request_of(1, 1)));
  CHECK(next[0].range.first == 160);
  CHECK(next[0].enrolment == 4);
  CHECK(next[0].serial == 62);
  CHECK(desk.problems().empty());
}
