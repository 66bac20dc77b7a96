// Work orders that are counted and closed with another one.
#include "register/register.h"

#include <fmt/format.h>

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

// What the one was made from, the other one is made from too: the same class, the same packages.
Try<void> check_alike(Database& database, const Merge& merge) {
  static const std::string sql = std::string(made_sql) +
                                 " EXCEPT SELECT * FROM (SELECT class, manifest FROM lot WHERE "
                                 "work_order = ?2 UNION SELECT class, manifest FROM work_order "
                                 "WHERE name = ?2)";
  REG_TRY(query, database.query(sql.c_str()));
  REG_TRY(row, query.bind(merge.work_order).bind(merge.whole).next());
  if (!row) {
    return {};
  }
  format::Digest manifest{};
  (void)query.bytes_into(1, manifest); // the tables allow no other length
  return Unexpected(
      refused("merge-other", "these two orders are not for the same boards",
              fmt::format("{}: class {}, package {}", merge.work_order, query.text(0),
                          crypto::spell_digest(manifest)),
              fmt::format("a class and a package that {} has too", merge.whole),
              "leave them apart; a closure of its own costs nothing but its signature"));
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

// A merged order takes no other, so the way ends.
Try<std::string> whole_of(Database& database, std::string_view work_order) {
  std::string whole(work_order);
  for (;;) {
    REG_TRY(query, database.query("SELECT whole FROM merged WHERE work_order = ?"));
    REG_TRY(row, query.bind(whole).next());
    if (!row) {
      return whole;
    }
    whole = query.text(0);
  }
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
  REG_DO(check_alike(database_, merge));
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
  std::vector<std::string> names{std::string(work_order)};
  for (;;) {
    REG_TRY(next, merge_of(names.back()));
    if (!next) {
      return names;
    }
    names.push_back(std::move(next->whole));
  }
}

} // namespace cardseal::registry
