// Boards that got another number: each old one and its new one lead to each other.
#include "register/register.h"

#include <fmt/format.h>

#include "register/rows.h"

namespace cardseal::registry {
namespace {

std::string unit_words(const UnitAt& unit) {
  return fmt::format("unit {} of allotment {}", unit.unit + 1, unit.allotment);
}

Error not_rework(const UnitAt& now, std::string found, const std::string& work_order) {
  return refused("rework-lot", "the new number is not of a rework lot that comes from this one",
                 std::move(found),
                 fmt::format("{} on a card of class rework whose order names {} as parent",
                             unit_words(now), work_order),
                 "look at the new label again, or write the rework's order with that parent");
}

// Of the order that the new number's card was made for.
Try<void> check_lot(Database& database, const UnitAt& now, const std::string& work_order) {
  REG_TRY(query, database.query(
                     "SELECT l.work_order, l.class, a.units, o.parent FROM allotment a JOIN lot l "
                     "ON l.id = a.lot LEFT JOIN work_order o ON o.name = l.work_order WHERE a.id "
                     "= ? ORDER BY o.revision DESC LIMIT 1"));
  REG_TRY(row, query.bind(now.allotment).next());
  if (!row || now.unit >= query.number(2)) {
    return Unexpected(not_rework(now, "no such unit", work_order));
  }
  REG_TRY(whole, whole_of(database, work_order));
  REG_TRY(from, whole_of(database, query.is_null(3) ? std::string() : query.text(3)));
  const std::string parent = query.is_null(3) ? "no parent" : "parent " + query.text(3);
  if (query.text(1) != "rework" || query.is_null(3) || from != whole) {
    return Unexpected(not_rework(
        now, fmt::format("{}, class {}, {}", query.text(0), query.text(1), parent), work_order));
  }
  return {};
}

Try<void> check_unused(Database& database, const UnitAt& now) {
  REG_TRY(query, database.query("SELECT allotment, unit FROM rework WHERE now_allotment = ? AND "
                                "now_unit = ?"));
  REG_TRY(row, query.bind(now.allotment).bind(now.unit).next());
  if (row) {
    return Unexpected(refused(
        "rework-used", "another board has that new number already",
        fmt::format("{}: once {}", unit_words(now), unit_words({query.number(0), query.number(1)})),
        "each new number once", "look at both labels again"));
  }
  REG_TRY(settled,
          database.query("SELECT what FROM settled WHERE allotment = ? AND first <= ?2 AND "
                         "past > ?2"));
  REG_TRY(gone, settled.bind(now.allotment).bind(now.unit).next());
  if (gone) {
    return Unexpected(refused("rework-settled", "the new number is no board's any more",
                              fmt::format("{}: {}", unit_words(now), settled.text(0)),
                              "a number that a board carries", "look at the new label again"));
  }
  return {};
}

Try<void> insert_rework(Database& database, Head& head, const Rework& rework) {
  REG_DO(append(database, head, rework_body(head.entries + 1, rework)));
  REG_TRY(insert, database.query("INSERT INTO rework(allotment, unit, now_allotment, now_unit, "
                                 "entry) VALUES(?, ?, ?, ?, ?)"));
  return insert.bind(rework.before.allotment)
      .bind(rework.before.unit)
      .bind(rework.now.allotment)
      .bind(rework.now.unit)
      .bind(head.entries)
      .run();
}

Try<std::optional<UnitAt>> other_end(Query query, const UnitAt& unit) {
  REG_TRY(row, query.bind(unit.allotment).bind(unit.unit).next());
  return row ? std::optional(UnitAt{query.number(0), query.number(1)}) : std::optional<UnitAt>();
}

} // namespace

const char* const rework_columns =
    "SELECT entry, allotment, unit, now_allotment, now_unit FROM rework";

Rework read_rework(const Query& query, std::uint64_t& entry) {
  entry = query.number(0);
  return {{query.number(1), query.number(2)}, {query.number(3), query.number(4)}};
}

Try<void> Register::link_in(Step& step, const Settlement& settled, const std::string& work_order) {
  if (settled.now.empty()) {
    return {};
  }
  if (settled.what != Settled::reworked || settled.now.size() != settled.units.count) {
    return Unexpected(refused("rework-form", "a new number is for one board that was reworked",
                              fmt::format("{} new numbers", settled.now.size()),
                              fmt::format("{}, of units that were reworked", settled.units.count),
                              "name the units one by one, each with its new number"));
  }
  for (std::uint64_t i = 0; i < settled.units.count; ++i) {
    const UnitAt& now = settled.now[i];
    REG_DO(check_lot(database_, now, work_order));
    REG_TRY(result, result_of(now.allotment, now.unit));
    if (!result || !result->good) {
      return Unexpected(refused("rework-open", "of the new number no log says that it is good",
                                unit_words(now), "a unit that is good by its log",
                                "reconcile the card of the rework lot first"));
    }
    REG_DO(check_unused(database_, now));
    REG_DO(
        insert_rework(database_, step.head, {{settled.allotment, settled.units.first + i}, now}));
  }
  return {};
}

Try<std::optional<UnitAt>> Register::number_after(const UnitAt& unit) {
  REG_TRY(query, database_.query("SELECT now_allotment, now_unit FROM rework WHERE allotment = ? "
                                 "AND unit = ?"));
  return other_end(std::move(query), unit);
}

Try<std::optional<UnitAt>> Register::number_before(const UnitAt& unit) {
  REG_TRY(query, database_.query("SELECT allotment, unit FROM rework WHERE now_allotment = ? AND "
                                 "now_unit = ?"));
  return other_end(std::move(query), unit);
}

Try<void> Register::each_rework(const std::function<void(const Rework&)>& take) {
  static const std::string sql = std::string(rework_columns) + " ORDER BY entry";
  REG_TRY(query, database_.query(sql.c_str()));
  REG_TRY(rows, rows_of(query, read_rework));
  for (const Rework& row : rows) {
    take(row);
  }
  return {};
}

} // namespace cardseal::registry
