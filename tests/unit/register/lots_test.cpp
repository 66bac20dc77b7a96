// Orders, settled units and statements: what the register takes, and what it refuses whatever
// program writes it.
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

OrderRow order_of(std::uint64_t revision) {
  OrderRow order;
  order.work_order = "WO-1";
  order.revision = revision;
  order.work_class = "production";
  order.manifest.fill(7);
  order.product = "frost-node";
  order.quantity = 10;
  return order;
}

Statement closure() {
  Statement statement;
  statement.kind = StatementKind::closure;
  statement.work_order = "WO-1";
  statement.text = {1};
  return statement;
}

struct Made : Desk { // one card of 16 units: 0 good, 1 begun
  Made() : numbers(open()), given(must(numbers.reserve(request_of(1, 16)))[0]) {
    must(numbers.add_outcome(given.allotment, io::Bytes{3, 0}, io::Bytes{1, 0}));
  }
  Try<void> settle(std::uint64_t unit, Settled what, std::uint64_t count = 1) {
    return numbers.settle({given.allotment, {unit, count}, what, "floor", "seen", ""});
  }
  Register numbers;
  Reserved given;
};

} // namespace

TEST_CASE("an order is taken once, and a revision only rises and stays what it is") {
  const Desk desk;
  Register numbers = desk.open();
  must(numbers.enter_order(order_of(1)));
  const std::uint64_t entries = must(numbers.head()).entries;
  must(numbers.enter_order(order_of(1)));
  CHECK(must(numbers.head()).entries == entries);

  OrderRow changed = order_of(1);
  changed.quantity = 11;
  CHECK(code_of(numbers.enter_order(changed)) == "order-revision");
  changed.revision = 2;
  must(numbers.enter_order(changed));
  CHECK(must(numbers.order_of("WO-1"))->quantity == 11);
  CHECK(code_of(numbers.enter_order(order_of(1))) == "order-revision");
  changed.revision = 3;
  changed.work_class = "pilot";
  CHECK(code_of(numbers.enter_order(changed)) == "order-other");
  changed = order_of(3);
  changed.parent = "WO-0";
  CHECK(code_of(numbers.enter_order(changed)) == "order-other");
  CHECK_FALSE(must(numbers.order_of("WO-2")));
}

TEST_CASE("a place of an order gets its cards once") {
  const Desk desk;
  Register numbers = desk.open();
  SetRequest request = request_of(1, 4);
  request.place = "A";
  (void)must(numbers.reserve(request));
  CHECK(code_of(numbers.reserve(request)) == "place-taken");
  request.place = "B";
  (void)must(numbers.reserve(request));
  const auto places = must(numbers.places_of("WO-1"));
  REQUIRE(places.size() == 2);
  CHECK(places[1].first == "B");
}

TEST_CASE("what became of a unit is said once, of one that was begun") {
  Made desk;
  CHECK(code_of(desk.settle(2, Settled::scrapped)) == "settled-open");
  CHECK(code_of(desk.settle(0, Settled::no_board)) == "settled-good");
  CHECK(code_of(desk.settle(1, Settled::conceded)) == "settled-signed");
  CHECK(code_of(desk.settle(15, Settled::scrapped, 2)) == "settled-outside");
  CHECK(code_of(desk.settle(0, Settled::scrapped, 0)) == "settled-outside");
  must(desk.settle(1, Settled::scrapped));
  CHECK(code_of(desk.settle(1, Settled::reworked)) == "settled-before");
  CHECK(code_of(desk.settle(0, Settled::reworked, 2)) == "settled-before");
  must(desk.settle(0, Settled::reworked)); // a good board may be made anew
  const auto settled = must(desk.numbers.settlements_of(desk.given.allotment));
  REQUIRE(settled.size() == 2);
  CHECK(settled[0].what == Settled::reworked);
  CHECK(settled[1].units == Range{1, 1});
}

TEST_CASE("a reworked board's two numbers lead to each other") {
  Made desk;
  const auto card_of = [&](const char* work_order, format::WorkClass work_class) {
    SetRequest request = request_of(1, 4);
    request.work_order = test::text<24>(work_order);
    request.work_class = work_class;
    request.place = "1";
    const Reserved given = must(desk.numbers.reserve(request))[0];
    must(desk.numbers.add_outcome(given.allotment, io::Bytes{7}, io::Bytes{3})); // 0 and 1 good
    return given.allotment;
  };
  const auto order = [&](const char* work_order, const char* parent) {
    OrderRow row = order_of(1);
    row.work_order = work_order;
    row.work_class = "rework";
    row.parent = parent;
    must(desk.numbers.enter_order(row));
  };
  order("WO-2", "WO-1");
  order("WO-3", "WO-2");
  const std::uint64_t second = card_of("WO-2", format::WorkClass::rework);
  const std::uint64_t third = card_of("WO-3", format::WorkClass::rework);
  const std::uint64_t bare = card_of("WO-4", format::WorkClass::rework); // without an order
  const std::uint64_t first = desk.given.allotment;
  const auto rework = [&](UnitAt before, std::vector<UnitAt> now,
                          Settled what = Settled::reworked) {
    return code_of(desk.numbers.settle(
        {before.allotment, {before.unit, 1}, what, "floor", "seen", "", std::move(now)}));
  };
  const std::uint64_t entries = must(desk.numbers.head()).entries;
  CHECK(rework({first, 1}, {{second, 2}}) == "rework-open");
  CHECK(rework({first, 1}, {{second, 3}}) == "rework-open");
  CHECK(rework({first, 1}, {{second, 4}}) == "rework-lot"); // no such unit
  CHECK(rework({first, 1}, {{third, 0}}) == "rework-lot");  // comes from another lot
  CHECK(rework({first, 1}, {{bare, 0}}) == "rework-lot");
  CHECK(rework({first, 1}, {{first, 0}}) == "rework-lot"); // no rework at all
  CHECK(rework({first, 1}, {{second, 0}, {second, 1}}) == "rework-form");
  CHECK(rework({first, 1}, {{second, 0}}, Settled::scrapped) == "rework-form");
  CHECK(must(desk.numbers.head()).entries == entries);
  CHECK(rework({first, 1}, {{second, 0}}) == "done");
  CHECK(rework({first, 0}, {{second, 0}}) == "rework-used");
  CHECK(rework({second, 0}, {{third, 1}}) == "done"); // once more, later
  CHECK(rework({first, 0}, {{second, 0}}) == "rework-used");
  must(desk.numbers.settle({second, {1, 1}, Settled::scrapped, "floor", "seen", ""}));
  CHECK(rework({first, 0}, {{second, 1}}) == "rework-settled");
  CHECK(must(desk.numbers.number_after({first, 1})) == UnitAt{second, 0});
  CHECK(must(desk.numbers.number_after({second, 0})) == UnitAt{third, 1});
  CHECK(must(desk.numbers.number_before({third, 1})) == UnitAt{second, 0});
  CHECK_FALSE(must(desk.numbers.number_before({first, 1})));
  CHECK_FALSE(must(desk.numbers.number_after({third, 1})));
  CHECK(desk.problems().empty());
  for (const char* sql : {"UPDATE rework SET now_unit = 3", "DELETE FROM rework",
                          "INSERT INTO rework SELECT allotment, 0, now_allotment, 3, 1 FROM rework",
                          "INSERT INTO rework SELECT allotment, unit + 9, now_allotment, 3, 1 FROM "
                          "rework"}) {
    INFO(sql);
    CHECK_FALSE(desk.raw(sql).has_value());
  }
}

TEST_CASE("a label is printed before it is applied or scrapped, and never twice at once") {
  Made desk;
  const std::uint64_t id = desk.given.allotment;
  const auto note = [&](Range units, LabelFate what) {
    return code_of(desk.numbers.note_labels({{id, units, what, "floor", "seen", ""}}));
  };
  CHECK(note({0, 1}, LabelFate::applied) == "label-order");
  CHECK(note({0, 1}, LabelFate::scrapped) == "label-order");
  CHECK(note({15, 2}, LabelFate::printed) == "label-outside");
  CHECK(note({0, 0}, LabelFate::printed) == "label-outside");
  CHECK(note({0, 8}, LabelFate::printed) == "done");
  CHECK(note({7, 2}, LabelFate::printed) == "label-order"); // unit 7 has one
  CHECK(note({7, 2}, LabelFate::applied) == "label-order"); // unit 8 has none
  CHECK(note({2, 6}, LabelFate::applied) == "done");
  CHECK(note({2, 1}, LabelFate::applied) == "label-order");
  CHECK(note({0, 3}, LabelFate::scrapped) == "done");
  CHECK(note({0, 1}, LabelFate::applied) == "label-order");
  CHECK(note({0, 1}, LabelFate::printed) == "done"); // anew
  const auto last = last_of(must(desk.numbers.labels_of(id)), {0, 9});
  CHECK(last == LabelStates{LabelFate::printed, LabelFate::scrapped, LabelFate::scrapped,
                            LabelFate::applied, LabelFate::applied, LabelFate::applied,
                            LabelFate::applied, LabelFate::applied, std::nullopt});
  // Of one call all or none.
  const std::vector<LabelNote> two{{id, {9, 1}, LabelFate::printed, "floor", "seen", ""},
                                   {id, {1, 1}, LabelFate::applied, "floor", "seen", ""}};
  CHECK(code_of(desk.numbers.note_labels(two)) == "label-order");
  CHECK_FALSE(last_of(must(desk.numbers.labels_of(id)), {9, 1}).front());
  CHECK(desk.problems().empty());
  for (const char* sql :
       {"UPDATE label SET what = 'applied'", "DELETE FROM label",
        "INSERT INTO label SELECT 99, allotment, 16, 17, what, said_by, note, 1 "
        "FROM label LIMIT 1",
        "INSERT INTO label SELECT 99, allotment, 12, 13, 'applied', said_by, note, "
        "1 FROM label LIMIT 1"}) {
    INFO(sql);
    CHECK_FALSE(desk.raw(sql).has_value());
  }
}

TEST_CASE("settlements of one call are all kept or none") {
  Made desk;
  const std::uint64_t id = desk.given.allotment;
  const Settlement one{id, {1, 1}, Settled::scrapped, "floor", "seen", ""};
  CHECK(code_of(desk.numbers.settle(std::vector<Settlement>{one, one})) == "settled-before");
  CHECK(must(desk.numbers.settlements_of(id)).empty());
  must(desk.numbers.settle(
      std::vector<Settlement>{one, {id, {0, 1}, Settled::scrapped, "floor", "seen", ""}}));
  CHECK(must(desk.numbers.settlements_of(id)).size() == 2);
}

TEST_CASE("a statement and what it settles are kept together or not at all") {
  Made desk;
  Statement concession = closure();
  concession.kind = StatementKind::concession;
  const std::vector<Settlement> units{
      {desk.given.allotment, {1, 1}, Settled::conceded, "omar", "CN-1", ""},
      {desk.given.allotment, {0, 1}, Settled::conceded, "omar", "CN-1", ""}}; // good: refused
  CHECK(code_of(desk.numbers.keep_statement(concession, units)) == "settled-good");
  CHECK(must(desk.numbers.settlements_of(desk.given.allotment)).empty());
  CHECK(must(desk.numbers.statements_of("WO-1")).empty());
  must(desk.numbers.keep_statement(concession, {units[0]}));
  CHECK(must(desk.numbers.settlements_of(desk.given.allotment)).size() == 1);
}

TEST_CASE("a closure is about the register as it was counted, and the last word") {
  Made desk;
  const Head counted = must(desk.numbers.head());
  must(desk.settle(1, Settled::scrapped));
  CHECK(code_of(desk.numbers.keep_statement(closure(), {}, counted)) == "register-moved");
  must(desk.numbers.keep_statement(closure(), {}, must(desk.numbers.head())));
  CHECK(code_of(desk.numbers.keep_statement(closure())) == "lot-closed");
  CHECK(code_of(desk.numbers.reserve(request_of(1, 4))) == "lot-closed");
  CHECK(code_of(desk.numbers.enter_order(order_of(1))) == "lot-closed");
  CHECK(code_of(desk.settle(0, Settled::scrapped)) == "lot-closed");
  CHECK(desk.problems().empty());
}

TEST_CASE("the tables hold these rules against any program") {
  Made desk;
  must(desk.settle(1, Settled::scrapped));
  must(desk.numbers.enter_order(order_of(2)));
  must(desk.numbers.keep_statement(closure()));
  for (
      const char* sql :
      {"UPDATE settled SET what = 'reworked'", "DELETE FROM settled", "DELETE FROM work_order",
       "UPDATE work_order SET quantity = 1", "UPDATE statement SET text = x'00'",
       "DELETE FROM statement",
       "INSERT INTO settled SELECT 9, allotment, 0, 2, what, said_by, note, 1 FROM settled",
       "INSERT INTO settled SELECT 9, allotment, 16, 17, what, said_by, note, 1 FROM settled",
       "INSERT INTO work_order SELECT 9, name, 1, class, manifest, product, 1, 0, 0, NULL, file, 1 "
       "FROM work_order",
       "INSERT INTO work_order SELECT 9, name, 3, 'pilot', manifest, product, 1, 0, 0, NULL, file, "
       "1 FROM work_order",
       "INSERT INTO statement SELECT 9, work_order, kind, text, signature, 1 FROM statement",
       "INSERT INTO lot SELECT 9, work_order, class, manifest, product, 1, 1 FROM lot"}) {
    INFO(sql);
    CHECK_FALSE(desk.raw(sql));
  }
}

TEST_CASE("the allotment of a number is found by its range") {
  const Desk desk;
  Register numbers = desk.open();
  const std::vector<Reserved> given = must(numbers.reserve(request_of(3, 20)));
  CHECK(must(numbers.allotments_with(scheme_name, 99)).empty());
  CHECK(must(numbers.allotments_with(scheme_name, 160)).empty());
  CHECK(must(numbers.allotments_with("other", 120)).empty());
  for (const Reserved& each : given) {
    for (const std::uint64_t ordinal : {each.range.first, each.range.past() - 1}) {
      const std::vector<AllotmentRow> rows = must(numbers.allotments_with(scheme_name, ordinal));
      REQUIRE(rows.size() == 1);
      CHECK(rows[0].id == each.allotment);
    }
  }
  CHECK(must(numbers.allotments_of("WO-1")).size() == 3);
  CHECK(must(numbers.allotments_of("WO-2")).empty());
}

TEST_CASE("a prepared statement is kept under its text, not under where that stands") {
  const Desk desk;
  Database database = must(Database::open(desk.path, Access::existing, 1000));
  std::string sql = "SELECT 1";
  CHECK(must(database.number(sql.c_str())) == 1);
  sql.back() = '2';
  CHECK(must(database.number(sql.c_str())) == 2);
}
