// Two work orders that become one lot: what the register takes, and what it refuses from then on.
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

SetRequest cards_for(const char* work_order, std::uint8_t package = 7) {
  SetRequest request = request_of(1, 8);
  request.work_order = test::text<24>(work_order);
  request.manifest.fill(package);
  return request;
}

OrderRow order_of(const char* work_order, std::uint64_t revision, bool first_article = false) {
  OrderRow order;
  order.work_order = work_order;
  order.revision = revision;
  order.work_class = "production";
  order.manifest.fill(7);
  order.product = "frost-node";
  order.quantity = 10;
  order.first_article = first_article;
  return order;
}

Statement statement_of(const char* work_order, StatementKind kind) {
  Statement statement;
  statement.kind = kind;
  statement.work_order = work_order;
  statement.text = {1};
  return statement;
}

struct Two : Desk { // a card for each of two orders; of the first one's units 0 is begun
  Two() : numbers(open()), first(must(numbers.reserve(cards_for("WO-1")))[0]) {
    (void)must(numbers.reserve(cards_for("WO-2")));
    must(numbers.add_outcome(first.allotment, io::Bytes{3}, io::Bytes{0}));
  }
  Try<void> merge(const char* work_order, const char* whole, bool rehearse = false) {
    return numbers.merge({work_order, whole, "planner", "one delivery", ""}, rehearse);
  }
  Try<void> settle(std::uint64_t unit) {
    return numbers.settle({first.allotment, {unit, 1}, Settled::scrapped, "floor", "cut up", ""});
  }
  Register numbers;
  Reserved first;
};

} // namespace

TEST_CASE("a merged order gets no card, no revision and no statement; its units go on") {
  Two desk;
  const std::uint64_t before = must(desk.numbers.head()).entries;
  must(desk.merge("WO-1", "WO-2", true));
  CHECK(must(desk.numbers.head()).entries == before); // a rehearsal
  must(desk.merge("WO-1", "WO-2"));
  CHECK(must(desk.numbers.head()).entries == before + 1);
  CHECK(code_of(desk.numbers.reserve(cards_for("WO-1"))) == "lot-merged");
  CHECK(code_of(desk.numbers.enter_order(order_of("WO-1", 1))) == "lot-merged");
  CHECK(code_of(desk.numbers.keep_statement(statement_of("WO-1", StatementKind::closure))) ==
        "lot-merged");
  (void)must(desk.numbers.reserve(cards_for("WO-2")));
  must(desk.settle(0));
  must(desk.numbers.keep_statement(statement_of("WO-2", StatementKind::closure)));
  CHECK(code_of(desk.settle(1)) == "lot-closed"); // with the whole
  CHECK(code_of(desk.numbers.reserve(cards_for("WO-1"))) == "lot-closed");
  CHECK(desk.problems().empty());
}

TEST_CASE("merged orders lead to the one that counts them, and it to all of them") {
  Two desk;
  (void)must(desk.numbers.reserve(cards_for("WO-3")));
  must(desk.merge("WO-1", "WO-2"));
  must(desk.merge("WO-2", "WO-3"));
  CHECK(must(desk.numbers.wholes_of("WO-1")) == std::vector<std::string>{"WO-1", "WO-2", "WO-3"});
  CHECK(must(desk.numbers.wholes_of("WO-3")) == std::vector<std::string>{"WO-3"});
  CHECK(must(desk.numbers.merge_of("WO-1"))->whole == "WO-2");
  CHECK_FALSE(must(desk.numbers.merge_of("WO-3")));
  const std::vector<Merge> all = must(desk.numbers.merged_into("WO-3"));
  REQUIRE(all.size() == 2);
  CHECK(all[0].work_order == "WO-1");
  CHECK(all[1].work_order == "WO-2");
  CHECK(all[1].note == "one delivery");
  CHECK(must(desk.numbers.merged_into("WO-1")).empty());
  CHECK(desk.problems().empty());
}

TEST_CASE("what can't be one lot is not merged") {
  Two desk;
  CHECK(code_of(desk.merge("WO-1", "WO-1")) == "merge-self");
  CHECK(code_of(desk.merge("WO-1", "WO-9")) == "work-order-unknown");
  CHECK(code_of(desk.merge("WO-9", "WO-1")) == "work-order-unknown");
  CHECK(code_of(desk.numbers.merge({"WO-1", "WO-2", "", "why", ""})) == "note-form");

  (void)must(desk.numbers.reserve(cards_for("WO-3", 8)));
  CHECK(code_of(desk.merge("WO-1", "WO-3")) == "merge-other"); // another package
  SetRequest pilot = cards_for("WO-4");
  pilot.work_class = format::WorkClass::pilot;
  (void)must(desk.numbers.reserve(pilot));
  CHECK(code_of(desk.merge("WO-1", "WO-4")) == "merge-other");

  must(desk.merge("WO-1", "WO-2"));
  CHECK(code_of(desk.merge("WO-1", "WO-2")) == "lot-merged");
  CHECK(code_of(desk.merge("WO-2", "WO-1")) == "lot-merged"); // round in a circle
  (void)must(desk.numbers.reserve(cards_for("WO-5")));
  must(desk.numbers.keep_statement(statement_of("WO-5", StatementKind::closure)));
  CHECK(code_of(desk.merge("WO-5", "WO-2")) == "lot-closed");
  CHECK(code_of(desk.merge("WO-2", "WO-5")) == "lot-closed");
  CHECK(desk.problems().empty());
}

// Of two packages on a card the other order may have more, but not fewer.
TEST_CASE("each package of a merged order is one of the order that takes it") {
  Two desk;
  (void)must(desk.numbers.reserve(cards_for("WO-2", 8)));
  CHECK(code_of(desk.merge("WO-2", "WO-1")) == "merge-other");
  must(desk.merge("WO-1", "WO-2"));
}

TEST_CASE("a first article that was asked for is not got rid of by merging") {
  Two desk;
  must(desk.numbers.enter_order(order_of("WO-1", 1, true)));
  CHECK(code_of(desk.merge("WO-1", "WO-2")) == "merge-order");
  must(desk.numbers.enter_order(order_of("WO-2", 1)));
  CHECK(code_of(desk.merge("WO-1", "WO-2")) == "merge-first-article");
  must(desk.numbers.keep_statement(statement_of("WO-1", StatementKind::first_article)));
  must(desk.merge("WO-1", "WO-2"));

  must(desk.numbers.enter_order(order_of("WO-3", 1, true))); // no card yet
  CHECK(code_of(desk.merge("WO-3", "WO-2")) == "merge-first-article");
  must(desk.numbers.enter_order(order_of("WO-4", 1, true)));
  must(desk.merge("WO-3", "WO-4")); // which asks for one as well
  CHECK(desk.problems().empty());
}

TEST_CASE("cards of two classes under one work order are merged with nothing") {
  Two desk;
  SetRequest pilot = cards_for("WO-2");
  pilot.work_class = format::WorkClass::pilot;
  (void)must(desk.numbers.reserve(pilot));
  CHECK(code_of(desk.merge("WO-1", "WO-2")) == "merge-other");
  CHECK(code_of(desk.merge("WO-2", "WO-1")) == "merge-other");
}

// Else boards that come back would be looked up under the wrong one.
TEST_CASE("orders that come from different orders are not merged, nor one with its parent") {
  Two desk;
  const auto enter = [&](const char* name, const char* parent) {
    OrderRow order = order_of(name, 1);
    order.parent = parent;
    must(desk.numbers.enter_order(order));
  };
  enter("RW-1", "WO-1");
  enter("RW-2", "WO-2");
  enter("RW-3", "RW-1");
  CHECK(code_of(desk.merge("RW-1", "RW-2")) == "merge-parent");
  CHECK(code_of(desk.merge("RW-3", "RW-1")) == "merge-parent");
  CHECK(code_of(desk.merge("RW-1", "RW-3")) == "merge-parent");
  must(desk.merge("WO-1", "WO-2"));
  must(desk.merge("RW-1", "RW-2")); // their parents are one by now
}

TEST_CASE("what no closure holds is not merged") {
  Two desk;
  OrderRow large = order_of("WO-3", 1);
  large.quantity = 9'999'990;
  must(desk.numbers.enter_order(large));
  must(desk.numbers.enter_order(order_of("WO-4", 1)));
  CHECK(code_of(desk.merge("WO-4", "WO-3")) == "merge-size");
  std::size_t cards = 2;
  for (const char* name : {"WO-1", "WO-2"}) {
    for (std::size_t more = 0; more < 100 && cards < 201; ++more, ++cards) {
      SetRequest request = cards_for(name);
      request.cards[0].units = 1;
      request.permitted = {window_of(100, 999)};
      (void)must(desk.numbers.reserve(request));
    }
  }
  CHECK(cards == 201);
  CHECK(code_of(desk.merge("WO-1", "WO-2")) == "merge-size");
}

TEST_CASE("a merged lot does not grow past what a closure holds") {
  Two desk;
  must(desk.numbers.enter_order(order_of("WO-2", 1)));
  must(desk.merge("WO-1", "WO-2"));
  OrderRow large = order_of("WO-2", 2);
  large.quantity = 9'999'999;
  CHECK(code_of(desk.numbers.enter_order(large)) == "merge-size"); // 8 units of WO-1 besides
  large.quantity -= 8;
  must(desk.numbers.enter_order(large));
  SetRequest request = request_of(198, 1, {window_of(100, 999)});
  request.work_order = test::text<24>("WO-2");
  request.place = "A";
  (void)must(desk.numbers.reserve(request));
  request.place = "B";
  request.cards.resize(1);
  CHECK(code_of(desk.numbers.reserve(request)) == "merge-size");
  CHECK(desk.problems().empty());
}

// A closure said that it was not made.
TEST_CASE("nothing is sealed for a lot that is closed, whatever name it was reserved under") {
  Two desk;
  must(desk.merge("WO-1", "WO-2"));
  must(desk.numbers.keep_statement(statement_of("WO-2", StatementKind::closure)));
  CHECK(code_of(desk.numbers.seal(desk.first, {1})) == "lot-closed");
  for (const char* sql : {"INSERT INTO sealing VALUES(1, zeroblob(32), 1)",
                          "INSERT INTO sealing VALUES(2, zeroblob(32), 1)"}) {
    CHECK_FALSE(desk.raw(sql));
  }
}

TEST_CASE("merged orders that lead round in a circle are told, and nothing hangs") {
  Two desk;
  must(desk.merge("WO-1", "WO-2"));
  must(
      desk.raw("DROP TRIGGER merged_ends; INSERT INTO merged VALUES('WO-2', 'WO-1', 'a', 'b', 1)"));
  CHECK(code_of(desk.numbers.wholes_of("WO-1")) == "register-damaged");
  CHECK(code_of(desk.settle(0)) == "register-damaged");
  CHECK(must(desk.numbers.merged_into("WO-1")).size() == 2);
  CHECK_FALSE(desk.problems().empty());
}

// The table's own rules, for programs that are not this one.
TEST_CASE("no SQL undoes a merge or goes round it") {
  Two desk;
  (void)must(desk.numbers.reserve(cards_for("WO-3")));
  SetRequest pilot = cards_for("WO-4");
  pilot.work_class = format::WorkClass::pilot;
  (void)must(desk.numbers.reserve(pilot));
  (void)must(desk.numbers.reserve(cards_for("WO-5")));
  must(desk.numbers.keep_statement(statement_of("WO-5", StatementKind::closure)));
  must(desk.merge("WO-1", "WO-2"));
  const std::string row = "INSERT INTO merged VALUES(";
  for (const std::string& sql :
       {std::string("UPDATE merged SET whole = 'WO-3'"), std::string("DELETE FROM merged"),
        row + "'WO-2', 'WO-1', 'a', 'b', 1)", row + "'WO-3', 'WO-3', 'a', 'b', 1)",
        row + "'WO-3', 'WO-4', 'a', 'b', 1)", row + "'WO-3', 'WO-5', 'a', 'b', 1)",
        row + "'WO-5', 'WO-3', 'a', 'b', 1)",
        std::string("INSERT INTO lot SELECT 99, 'WO-1', class, manifest, product, 1, 1 FROM lot"),
        std::string("INSERT INTO work_order VALUES(9, 'WO-1', 1, 'production', zeroblob(32), 'p', "
                    "1, 0, 0, NULL, zeroblob(32), 1)"),
        std::string("INSERT INTO statement VALUES(9, 'WO-1', 'closure', x'00', zeroblob(64), "
                    "1)")}) {
    INFO(sql);
    CHECK_FALSE(desk.raw(sql));
  }
  must(desk.raw(row + "'WO-3', 'WO-2', 'a', 'b', 1)"));
  CHECK_FALSE(desk.problems().empty()); // no entry made it
}
