// Lot orders, what becomes of units that a log leaves open, and what quality signed about a lot.
#include "register/register.h"

#include <algorithm>

#include <fmt/format.h>

#include "register/again.h"
#include "register/rows.h"

namespace cardseal::registry {
namespace {

Try<std::optional<OrderRow>> newest_order(Database& database, std::string_view work_order) {
  static const std::string sql =
      std::string(order_columns) + " WHERE name = ? ORDER BY revision DESC LIMIT 1";
  REG_TRY(query, database.query(sql.c_str()));
  query.bind(work_order);
  REG_TRY(rows, rows_of(query, read_order));
  return rows.empty() ? std::optional<OrderRow>() : std::optional(std::move(rows.front()));
}

bool same_order(const OrderRow& one, const OrderRow& other) {
  return order_body(1, one).text() == order_body(1, other).text();
}

// A revision says more cards, boards or spares: what is being made, and for which class, stays.
Try<void> check_follows(const OrderRow& before, const OrderRow& next) {
  if (next.revision <= before.revision) {
    return Unexpected(refused(
        "order-revision", "the register has this revision of the work order, or a later one",
        fmt::format("revision {} of {}", next.revision, next.work_order),
        fmt::format("revision {} or later", before.revision + 1),
        "raise the revision in the order's file when anything in it is changed"));
  }
  const bool same = next.work_class == before.work_class && next.manifest == before.manifest &&
                    next.parent == before.parent && next.first_article >= before.first_article;
  if (!same) {
    return Unexpected(refused(
        "order-other", "a revision of a work order changes what is made",
        fmt::format("revision {} of {}", next.revision, next.work_order),
        fmt::format("class {}, the same package and parent, and a first article where one was "
                    "asked for",
                    before.work_class),
        "give another package, class or parent a work order of its own"));
  }
  return {};
}

Try<void> insert_order(Database& database, const Head& head, const OrderRow& order) {
  REG_TRY(insert, database.query("INSERT INTO work_order(name, revision, class, manifest, product, "
                                 "quantity, spares, first_article, parent, file, entry) "
                                 "VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"));
  insert.bind(order.work_order).bind(order.revision).bind(order.work_class).bind(order.manifest);
  insert.bind(order.product).bind(order.quantity).bind(order.spares);
  insert.bind(std::uint64_t{order.first_article});
  order.parent ? insert.bind(*order.parent) : insert.bind_null();
  return insert.bind(order.file).bind(head.entries).run();
}

// Two revisions may have one file's bytes only where nothing in it says which it is.
Try<void> keep_file(Database& database, Head& head, const OrderRow& order) {
  if (order.bytes.empty()) {
    return {};
  }
  REG_TRY(query, database.query("SELECT 1 FROM order_file WHERE file = ?"));
  REG_TRY(kept, query.bind(order.file).next());
  if (kept) {
    return {};
  }
  REG_DO(append(database, head, order_file_body(head.entries + 1, order.bytes)));
  REG_TRY(insert, database.query("INSERT INTO order_file(file, bytes, entry) VALUES(?, ?, ?)"));
  return insert.bind(order.file).bind(order.bytes).bind(head.entries).run();
}

struct AllotmentFacts {
  std::string work_order;
  std::uint64_t units = 0;
};

Try<AllotmentFacts> facts_of(Database& database, std::uint64_t allotment) {
  REG_TRY(query, database.query("SELECT l.work_order, a.units FROM allotment a JOIN lot l ON l.id "
                                "= a.lot WHERE a.id = ?"));
  REG_TRY(row, query.bind(allotment).next());
  return row ? AllotmentFacts{query.text(0), query.number(1)} : AllotmentFacts{};
}

std::string units_words(const Settlement& settled) {
  return settled.units.count == 1
             ? fmt::format("unit {} of allotment {}", settled.units.first + 1, settled.allotment)
             : fmt::format("units {} to {} of allotment {}", settled.units.first + 1,
                           settled.units.past(), settled.allotment);
}

Try<void> check_unsettled(Database& database, const Settlement& settled) {
  REG_TRY(query, database.query("SELECT what FROM settled WHERE allotment = ? AND first < ? AND "
                                "past > ? LIMIT 1"));
  REG_TRY(
      row,
      query.bind(settled.allotment).bind(settled.units.past()).bind(settled.units.first).next());
  if (row) {
    return Unexpected(refused("settled-before", "what became of one of these units is said already",
                              fmt::format("{}: {}", units_words(settled), query.text(0)),
                              "units that are still open", "cardseal lot show lists them"));
  }
  return {};
}

bool bit_of(ByteView bits, std::uint64_t unit) {
  return unit / 8 < bits.size() && (bits[unit / 8] >> unit % 8 & 1U) != 0;
}

// Only of a unit that was begun is there anything to say; and a good one has its board.
Try<void> check_begun(const std::optional<Results>& known, const Settlement& settled) {
  const bool needs_board = settled.what == Settled::no_board || settled.what == Settled::conceded;
  for (std::uint64_t unit = settled.units.first; unit < settled.units.past(); ++unit) {
    if (!known || !bit_of(known->begun, unit)) {
      return Unexpected(refused("settled-open", "of one of these units no log says it was begun",
                                fmt::format("unit {} of allotment {}", unit + 1, settled.allotment),
                                "units that were begun",
                                "reconcile the card first; what was never begun needs no word"));
    }
    if (needs_board && bit_of(known->good, unit)) {
      return Unexpected(
          refused("settled-good", "one of these units is good by its log",
                  fmt::format("unit {} of allotment {}: good", unit + 1, settled.allotment),
                  "units that failed or are in doubt",
                  "a good board that will not ship is scrapped or reworked"));
    }
  }
  return {};
}

// What became of a board is said of the last card that names it.
Try<void> check_not_back(Register& numbers, Database& database, const Settlement& settled) {
  REG_TRY(row, numbers.allotment_by_id(settled.allotment));
  if (!row) {
    return {};
  }
  REG_TRY(later, taken_back(database, *row));
  for (const Range& units : later) {
    if (units.first < settled.units.past() && units.past() > settled.units.first) {
      return Unexpected(
          refused("settled-later", "the board of this unit is on a later card",
                  fmt::format("unit {} of allotment {}", units.first + 1, settled.allotment),
                  "the unit of that card",
                  "say it of the rework's work order, which knows the board last"));
    }
  }
  return {};
}

Try<void> check_range(const AllotmentFacts& facts, const Settlement& settled) {
  if (settled.units.count == 0 || settled.units.past() > facts.units) {
    return Unexpected(refused("settled-outside", "these units are not all of this allotment",
                              units_words(settled), fmt::format("1 to {}", facts.units),
                              "cardseal lot show lists them"));
  }
  return {};
}

Try<void> insert_settled(Database& database, Head& head, const Settlement& settled) {
  REG_DO(append(database, head, settled_body(head.entries + 1, settled)));
  REG_TRY(insert, database.query("INSERT INTO settled(allotment, first, past, what, said_by, note, "
                                 "entry) VALUES(?, ?, ?, ?, ?, ?, ?)"));
  return insert.bind(settled.allotment)
      .bind(settled.units.first)
      .bind(settled.units.past())
      .bind(settled_words[static_cast<std::size_t>(settled.what)])
      .bind(settled.by)
      .bind(settled.note)
      .bind(head.entries)
      .run();
}

Error moved() {
  return refused("register-moved", "the register was changed while this was being signed",
                 "another newest entry", "the state that the statement is about",
                 "look at the lot again, and sign what it says then");
}

} // namespace

const char* const order_columns =
    "SELECT o.entry, name, revision, class, manifest, product, quantity, spares, first_article, "
    "parent, file, time FROM work_order o JOIN entry e ON e.number = o.entry";

OrderRow read_order(const Query& query, std::uint64_t& entry) {
  OrderRow order;
  entry = query.number(0);
  order.work_order = query.text(1);
  order.revision = query.number(2);
  order.work_class = query.text(3);
  (void)query.bytes_into(4, order.manifest); // the table allows no other length
  order.product = query.text(5);
  order.quantity = query.number(6);
  order.spares = query.number(7);
  order.first_article = query.number(8) != 0;
  if (!query.is_null(9)) {
    order.parent = query.text(9);
  }
  (void)query.bytes_into(10, order.file);
  order.time = query.text(11);
  return order;
}

const char* const settled_columns =
    "SELECT s.entry, allotment, first, past - first, what, said_by, note, time FROM settled s JOIN "
    "entry e ON e.number = s.entry";

Settlement read_settled(const Query& query, std::uint64_t& entry) {
  entry = query.number(0);
  return {query.number(1),
          {query.number(2), query.number(3)},
          value_of<Settled>(query.text(4), settled_words),
          query.text(5),
          query.text(6),
          query.text(7)};
}

const char* const statement_columns =
    "SELECT s.entry, kind, work_order, text, signature, time FROM statement s JOIN entry e ON "
    "e.number = s.entry";

Statement read_statement(const Query& query, std::uint64_t& entry) {
  Statement statement;
  entry = query.number(0);
  statement.kind = value_of<StatementKind>(query.text(1), statement_words);
  statement.work_order = query.text(2);
  statement.text = query.bytes(3);
  (void)query.bytes_into(4, statement.signature);
  statement.time = query.text(5);
  return statement;
}

Try<void> check_lot_open(Database& database, std::string_view work_order) {
  REG_TRY(whole, whole_of(database, work_order));
  REG_TRY(query, database.query("SELECT time FROM statement s JOIN entry e ON e.number = s.entry "
                                "WHERE work_order = ? AND kind = 'closure'"));
  REG_TRY(row, query.bind(whole).next());
  if (row) {
    return Unexpected(refused("lot-closed", "this lot is closed",
                              fmt::format("{}, closed {} (claimed)", whole, query.text(0)),
                              "a work order that is open",
                              "for more boards write a new order that names this one as parent"));
  }
  return {};
}

Try<void> Register::enter_order(const OrderRow& order) {
  REG_DO(check_note(order.work_order, "the work order"));
  REG_TRY(step, begin());
  REG_DO(check_lot_open(database_, order.work_order));
  REG_DO(check_not_merged(database_, order.work_order));
  REG_TRY(before, newest_order(database_, order.work_order));
  if (before && same_order(*before, order)) {
    return {};
  }
  if (before) {
    REG_DO(check_follows(*before, order));
  }
  Head& head = step.head;
  REG_DO(append(database_, head, order_body(head.entries + 1, order)));
  REG_DO(insert_order(database_, head, order));
  REG_DO(keep_file(database_, head, order));
  REG_DO(check_whole_size(database_, order.work_order));
  return finish(step);
}

Try<std::optional<OrderRow>> Register::order_of(std::string_view work_order) {
  return newest_order(database_, work_order);
}

Try<std::optional<io::Bytes>> Register::order_file(std::string_view work_order) {
  REG_TRY(query, database_.query("SELECT f.bytes FROM work_order o JOIN order_file f ON f.file = "
                                 "o.file WHERE o.name = ? ORDER BY o.revision DESC LIMIT 1"));
  REG_TRY(row, query.bind(work_order).next());
  return row ? std::optional(query.bytes(0)) : std::nullopt;
}

Try<void> Register::each_order(const std::function<void(const OrderRow&)>& take) {
  static const std::string sql = std::string(order_columns) + " ORDER BY o.id";
  REG_TRY(query, database_.query(sql.c_str()));
  REG_TRY(rows, rows_of(query, read_order));
  for (const OrderRow& row : rows) {
    take(row);
  }
  return {};
}

Try<std::vector<std::pair<std::string, std::uint64_t>>>
Register::places_of(std::string_view work_order) {
  REG_TRY(query, database_.query("SELECT name, lot FROM place WHERE work_order = ? ORDER BY lot"));
  query.bind(work_order);
  std::vector<std::pair<std::string, std::uint64_t>> places;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return places;
    }
    places.emplace_back(query.text(0), query.number(1));
  }
}

Try<std::vector<Range>> Register::taken_back(const AllotmentRow& row) {
  return registry::taken_back(database_, row);
}

Try<void> Register::settle_in(Step& step, const Settlement& settled) {
  REG_TRY(facts, facts_of(database_, settled.allotment));
  REG_DO(check_lot_open(database_, facts.work_order));
  REG_DO(check_range(facts, settled));
  REG_DO(check_unsettled(database_, settled));
  REG_TRY(known, results_of(settled.allotment));
  REG_DO(check_begun(known, settled));
  REG_DO(check_not_back(*this, database_, settled));
  REG_DO(insert_settled(database_, step.head, settled));
  return link_in(step, settled, facts.work_order);
}

Try<void> Register::settle(const Settlement& settled, bool rehearse) {
  return settle(std::vector<Settlement>{settled}, rehearse);
}

Try<void> Register::settle(const std::vector<Settlement>& settled, bool rehearse) {
  REG_TRY(step, begin());
  for (const Settlement& each : settled) {
    if (each.what == Settled::conceded) {
      return Unexpected(refused("settled-signed", "units are conceded by quality's signature only",
                                "", "a concession", "cardseal lot concede"));
    }
    REG_DO(check_note(each.by, "who says so"));
    REG_DO(check_note(each.note, "the note"));
    REG_DO(settle_in(step, each));
  }
  return rehearse ? Try<void>() : finish(step);
}

Try<std::vector<Settlement>> Register::settlements_of(std::uint64_t allotment) {
  static const std::string sql =
      std::string(settled_columns) + " WHERE allotment = ? ORDER BY first";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(allotment);
  return rows_of(query, read_settled);
}

Try<void> Register::keep_statement(const Statement& statement,
                                   const std::vector<Settlement>& settled,
                                   const std::optional<Head>& at, bool rehearse) {
  REG_TRY(step, begin());
  Head& head = step.head;
  REG_DO(check_lot_open(database_, statement.work_order));
  REG_DO(check_not_merged(database_, statement.work_order));
  if (at && (at->entries != head.entries || at->digest != head.digest)) {
    return Unexpected(moved());
  }
  for (const Settlement& each : settled) {
    REG_DO(settle_in(step, each));
  }
  REG_DO(append(database_, head, statement_body(head.entries + 1, statement)));
  {
    REG_TRY(insert, database_.query("INSERT INTO statement(work_order, kind, text, signature, "
                                    "entry) VALUES(?, ?, ?, ?, ?)"));
    REG_DO(insert.bind(statement.work_order)
               .bind(statement_words[static_cast<std::size_t>(statement.kind)])
               .bind(statement.text)
               .bind(statement.signature)
               .bind(head.entries)
               .run());
  }
  if (rehearse) {
    return {};
  }
  return finish(step);
}

Try<std::vector<Statement>> Register::statements_of(std::string_view work_order) {
  static const std::string sql =
      std::string(statement_columns) + " WHERE work_order = ? ORDER BY s.id";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(work_order);
  return rows_of(query, read_statement);
}

} // namespace cardseal::registry
