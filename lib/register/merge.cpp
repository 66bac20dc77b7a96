// Work orders that are counted and closed with another one.
#include "register/register.h"

#include <set>

#include <fmt/format.h>

#include "format/lot_texts.h"
#include "register/rows.h"

namespace cardseal::registry {
namespace {

// Class and package of each card of a work order, and of its order.
constexpr const char* made_sql = "SELECT class, manifest FROM lot WHERE work_order = ?1 UNION "
                                 "SELECT class, manifest FROM work_order WHERE name = ?1";

Try<void> check_known(Database& database, const std::string& work_order) {
  REG_TRY(query, database.query(made_sql));
  REG_TRY(row, query.bind(work_order).next());
  if (!row) {
    return Unexpected(error_of(ErrorKind::config, "work-order-unknown",
                               "this register has no card and no order of that name", work_order,
                               "", "cardseal lot list shows those it has"));
  }
  return {};
}

Error not_alike(const Merge& merge, std::string found, std::string expected) {
  return refused("merge-other", "these two orders are not for the same boards",
                 fmt::format("{}: {}", merge.work_order, std::move(found)), std::move(expected),
                 "leave them apart; a closure of its own costs nothing but its signature");
}

// What the one was made from, the other one is made from too; and both are of one class.
Try<void> check_alike(Database& database, const Merge& merge) {
  static const std::string sql = std::string(made_sql) +
                                 " EXCEPT SELECT * FROM (SELECT class, manifest FROM lot WHERE "
                                 "work_order = ?2 UNION SELECT class, manifest FROM work_order "
                                 "WHERE name = ?2)";
  REG_TRY(query, database.query(sql.c_str()));
  REG_TRY(row, query.bind(merge.work_order).bind(merge.whole).next());
  if (row) {
    format::Digest manifest{};
    (void)query.bytes_into(1, manifest); // the tables allow no other length
    return Unexpected(not_alike(
        merge, fmt::format("class {}, package {}", query.text(0), crypto::spell_digest(manifest)),
        fmt::format("a class and a package that {} has too", merge.whole)));
  }
  REG_TRY(classes, database.query("SELECT min(class), max(class) FROM (SELECT class FROM lot WHERE "
                                  "work_order = ?1 UNION SELECT class FROM work_order WHERE name = "
                                  "?1)"));
  REG_TRY(told, classes.bind(merge.whole).next());
  if (told && classes.text(0) != classes.text(1)) {
    return Unexpected(
        refused("merge-other", "the cards of this order are of several classes",
                fmt::format("{}: {} and {}", merge.whole, classes.text(0), classes.text(1)),
                "an order of one class", "leave them apart"));
  }
  return {};
}

// Boards that come back are looked up by the parent of the order that works on them.
Try<void> check_parents(Database& database, const Merge& merge,
                        const std::optional<OrderRow>& order,
                        const std::optional<OrderRow>& whole) {
  REG_TRY(one, whole_of(database, order ? order->parent.value_or("") : ""));
  REG_TRY(other, whole_of(database, whole ? whole->parent.value_or("") : ""));
  if (one == other) {
    return {};
  }
  return Unexpected(refused(
      "merge-parent", "these two orders don't come from the same order",
      fmt::format("{}: {}", merge.work_order, one.empty() ? "no parent" : one),
      fmt::format("{}: {}", merge.whole, other.empty() ? "no parent" : other), "leave them apart"));
}

// An order says how many there may be; without one nothing would.
Try<void> check_ordered(const Merge& merge, const std::optional<OrderRow>& order,
                        const std::optional<OrderRow>& whole) {
  if (!order || whole) {
    return {};
  }
  return Unexpected(refused("merge-order", "the order that goes on was never entered",
                            fmt::format("{}: only cards that were made one by one", merge.whole),
                            "one that says how many boards, as the merged one does",
                            fmt::format("merge {} into {} instead, or write an order for it",
                                        merge.whole, merge.work_order)));
}

// Else it could never be closed.
Try<void> check_size(Database& database, std::string_view one, std::string_view other) {
  constexpr std::uint64_t most_boards = 9'999'999; // of an order
  constexpr std::uint64_t most_cards = decltype(format::Close::cards)::capacity();
  REG_TRY(query, database.query(
                     "WITH RECURSIVE part(name) AS (VALUES(?1), (?2) UNION SELECT work_order "
                     "FROM merged JOIN part ON whole = name) SELECT (SELECT count(DISTINCT "
                     "card) FROM allotment a JOIN lot l ON l.id = a.lot WHERE l.work_order IN "
                     "(SELECT name FROM part)), (SELECT coalesce(sum(quantity), 0) FROM "
                     "work_order w WHERE name IN (SELECT name FROM part) AND revision = (SELECT "
                     "max(revision) FROM work_order WHERE name = w.name)) + (SELECT "
                     "coalesce(sum(units), 0) FROM allotment a JOIN lot l ON l.id = a.lot WHERE "
                     "NOT spare AND l.work_order IN (SELECT name FROM part) AND NOT EXISTS(SELECT "
                     "1 FROM work_order WHERE name = l.work_order))"));
  REG_TRY(row, query.bind(one).bind(other).next());
  if (!row || (query.number(0) <= most_cards && query.number(1) <= most_boards)) {
    return {};
  }
  return Unexpected(refused("merge-size",
                            "with the orders merged into it this is more than one closure holds",
                            fmt::format("{} cards, {} boards", query.number(0), query.number(1)),
                            fmt::format("at most {} cards and {} boards", most_cards, most_boards),
                            "give the rest a work order of its own"));
}

// A first article that an order asks for is not got rid of by merging it.
Try<void> check_first_article(Database& database, const Merge& merge) {
  REG_TRY(query,
          database.query(
              "SELECT EXISTS(SELECT 1 FROM statement WHERE work_order = ?1 AND kind = "
              "'first-article'), EXISTS(SELECT 1 FROM lot WHERE work_order = ?1), "
              "coalesce((SELECT first_article FROM work_order WHERE name = ?1 ORDER BY revision "
              "DESC LIMIT 1), 0), coalesce((SELECT first_article FROM work_order WHERE name = ?2 "
              "ORDER BY revision DESC LIMIT 1), 0)"));
  REG_TRY(row, query.bind(merge.work_order).bind(merge.whole).next());
  const bool is_signed = row && query.number(0) != 0;
  const bool has_card = row && query.number(1) != 0;
  const bool asks = row && query.number(2) != 0;
  const bool other_asks = row && query.number(3) != 0;
  if (!asks || is_signed || (other_asks && !has_card)) {
    return {};
  }
  return Unexpected(refused("merge-first-article",
                            "the order asks for a first article, and none is signed",
                            merge.work_order, "one that quality signed before it is merged",
                            "cardseal lot first-article"));
}

Try<void> insert_merge(Database& database, Head& head, const Merge& merge) {
  REG_DO(append(database, head, merge_body(head.entries + 1, merge)));
  REG_TRY(insert, database.query("INSERT INTO merged(work_order, whole, said_by, note, entry) "
                                 "VALUES(?, ?, ?, ?, ?)"));
  return insert.bind(merge.work_order)
      .bind(merge.whole)
      .bind(merge.by)
      .bind(merge.note)
      .bind(head.entries)
      .run();
}

Try<std::vector<Merge>> merges_where(Database& database, const char* condition,
                                     std::string_view work_order) {
  const std::string sql = std::string(merge_columns) + condition;
  REG_TRY(query, database.query(sql.c_str()));
  query.bind(work_order);
  return rows_of(query, read_merge);
}

} // namespace

const char* const merge_columns = "SELECT m.entry, work_order, whole, said_by, note, time FROM "
                                  "merged m JOIN entry e ON e.number = m.entry";

Merge read_merge(const Query& query, std::uint64_t& entry) {
  entry = query.number(0);
  return {query.text(1), query.text(2), query.text(3), query.text(4), query.text(5)};
}

// A merged order takes no other, so the way ends; but for a file that somebody bent.
Try<std::vector<std::string>> wholes_of(Database& database, std::string_view work_order) {
  std::vector<std::string> names{std::string(work_order)};
  std::set<std::string, std::less<>> seen;
  for (;;) {
    if (!seen.insert(names.back()).second) {
      return Unexpected(error_of(ErrorKind::bad_data, "register-damaged",
                                 "merged orders lead round in a circle", names.back(), "",
                                 "cardseal serial check; then go back to a copy that is sound"));
    }
    REG_TRY(query, database.query("SELECT whole FROM merged WHERE work_order = ?"));
    REG_TRY(row, query.bind(names.back()).next());
    if (!row) {
      return names;
    }
    names.push_back(query.text(0));
  }
}

Try<std::string> whole_of(Database& database, std::string_view work_order) {
  REG_TRY(names, wholes_of(database, work_order));
  return std::move(names.back());
}

Try<void> check_not_merged(Database& database, std::string_view work_order) {
  REG_TRY(whole, whole_of(database, work_order));
  if (whole == work_order) {
    return {};
  }
  return Unexpected(refused("lot-merged", "this order was merged into another one",
                            fmt::format("{}, into {}", work_order, whole), "an order of its own",
                            fmt::format("go on with {}", whole)));
}

Try<void> check_whole_size(Database& database, std::string_view work_order) {
  REG_TRY(query, database.query("SELECT 1 FROM merged WHERE whole = ? LIMIT 1"));
  REG_TRY(row, query.bind(work_order).next());
  return row ? check_size(database, work_order, work_order) : Try<void>();
}

Try<void> Register::merge(const Merge& merge, bool rehearse) {
  REG_DO(check_note(merge.by, "who says so"));
  REG_DO(check_note(merge.note, "the note"));
  REG_TRY(step, begin());
  for (const std::string& name : {merge.work_order, merge.whole}) {
    REG_DO(check_known(database_, name));
    REG_DO(check_lot_open(database_, name));
    REG_DO(check_not_merged(database_, name));
  }
  if (merge.work_order == merge.whole) {
    return Unexpected(refused("merge-self", "an order is not merged into itself", merge.whole,
                              "two orders", "name the one that goes on with --into"));
  }
  REG_TRY(order, order_of(merge.work_order));
  REG_TRY(whole, order_of(merge.whole));
  REG_DO(check_alike(database_, merge));
  REG_DO(check_parents(database_, merge, order, whole));
  REG_DO(check_ordered(merge, order, whole));
  REG_DO(check_size(database_, merge.work_order, merge.whole));
  REG_DO(check_first_article(database_, merge));
  REG_DO(insert_merge(database_, step.head, merge));
  return rehearse ? Try<void>() : finish(step);
}

Try<std::optional<Merge>> Register::merge_of(std::string_view work_order) {
  REG_TRY(rows, merges_where(database_, " WHERE work_order = ?", work_order));
  return rows.empty() ? std::optional<Merge>() : std::optional(std::move(rows.front()));
}

Try<std::vector<Merge>> Register::merged_into(std::string_view work_order) {
  return merges_where(database_,
                      " WHERE work_order IN (WITH RECURSIVE part(name) AS (SELECT work_order FROM "
                      "merged WHERE whole = ? UNION SELECT n.work_order FROM merged n JOIN part p "
                      "ON n.whole = p.name) SELECT name FROM part) ORDER BY m.entry",
                      work_order);
}

Try<std::vector<std::string>> Register::wholes_of(std::string_view work_order) {
  return registry::wholes_of(database_, work_order);
}

} // namespace cardseal::registry
