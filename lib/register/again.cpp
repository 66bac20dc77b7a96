#include "register/again.h"

#include <algorithm>

#include <fmt/format.h>

#include "base/number.h"

namespace cardseal::registry {
namespace {

Error unknown(std::uint64_t ordinal, std::string found) {
  return refused("again-unknown", "no log here says that a board got this number", std::move(found),
                 fmt::format("ordinal {} on a board", ordinal),
                 "reconcile the card that gave it, or leave the board out");
}

Try<void> check_settled(Database& database, const AllotmentRow& row, std::uint64_t ordinal) {
  const std::uint64_t unit = row.unit_of(ordinal).value_or(0);
  REG_TRY(query, database.query("SELECT what FROM settled WHERE allotment = ? AND first <= ? AND "
                                "past > ? AND what <> 'conceded'"));
  REG_TRY(said, query.bind(row.id).bind(unit).bind(unit).next());
  if (said) {
    return Unexpected(
        refused("again-gone", "no board has this number any more",
                fmt::format("ordinal {}: {} in {}", ordinal, query.text(0), row.work_order),
                "a number that a board has", "leave it out of the order"));
  }
  return {};
}

Try<void> check_begun(Database& database, const AllotmentRow& row, std::uint64_t ordinal) {
  const std::uint64_t unit = row.unit_of(ordinal).value_or(0);
  REG_TRY(query, database.query("SELECT substr(begun, ?2 / 8 + 1, 1) FROM outcome WHERE allotment "
                                "= ?1"));
  REG_TRY(told, query.bind(row.id).bind(unit).next());
  std::array<std::uint8_t, 1> begun{};
  if (!told || !query.bytes_into(0, begun) || (begun[0] >> unit % 8 & 1U) == 0) {
    return Unexpected(
        unknown(ordinal, fmt::format("unit of allotment {}: not begun by its log", row.id)));
  }
  return {};
}

// Two stations that work on one board at a time would both write its number.
Try<void> check_back(const AllotmentRow& row, std::uint64_t ordinal) {
  const bool ended = row.state == State::spent || row.counted_once_back || row.fate == Fate::lost ||
                     row.fate == Fate::destroyed;
  if (ended) {
    return {};
  }
  return Unexpected(refused(
      "again-out", "another card that names this board is not accounted for",
      fmt::format("ordinal {} on card {} of {}", ordinal, crypto::hex(row.card), row.work_order),
      "one that is back and counted, or noted as lost or destroyed",
      "reconcile it first, or leave the board out"));
}

Try<void> check_origin(Database& database, const SetRequest& set, const AllotmentRow& last,
                       std::uint64_t ordinal) {
  REG_TRY(whole, whole_of(database, last.work_order));
  REG_TRY(parent, whole_of(database, set.parent));
  REG_TRY(own, whole_of(database, set.work_order.view())); // it failed on a card of the same order
  const bool product = last.product == set.product.view();
  if (product && (set.parent.empty() || whole == parent || whole == own)) {
    return {};
  }
  return Unexpected(
      refused("again-other", "this board is not of the order's parent",
              fmt::format("ordinal {}: {}, {}", ordinal, last.product, last.work_order),
              fmt::format("{}{}{}", set.product.view(), set.parent.empty() ? "" : ", ", set.parent),
              "name the work order that worked on it last as the parent, or leave the board out"));
}

Try<void> check_ordinal(Database& database, const SetRequest& set, std::uint64_t ordinal) {
  REG_TRY(rows, allotments_with(database, set.scheme.value.view(), ordinal));
  if (rows.empty() || !rows.front().again.empty()) { // the first one gave it
    return Unexpected(unknown(ordinal, "it was given to no card"));
  }
  REG_DO(check_begun(database, rows.front(), ordinal));
  const AllotmentRow* last = &rows.front();
  for (const AllotmentRow& row : rows) {
    REG_DO(check_settled(database, row, ordinal));
    if (!row.again.empty()) {
      REG_DO(check_back(row, ordinal));
      last = row.state == State::spent ? last : &row;
    }
  }
  return check_origin(database, set, *last, ordinal);
}

Error badly_named(std::string found, std::string expected) {
  return refused("again-spans", "the boards of a card are named in a wrong way", std::move(found),
                 std::move(expected), "name each board of the card once, as its units say");
}

} // namespace

Try<void> check_again(Database& database, const SetRequest& set, const CardRequest& card) {
  std::uint64_t total = 0;
  std::uint64_t before = 0;
  if (!set.scheme.present) {
    return Unexpected(badly_named("a release without serial numbers", "numbers"));
  }
  for (const Range& span : card.again) {
    if (span.count == 0 || (total != 0 && span.first <= before)) {
      return Unexpected(badly_named(std::to_string(span.first), "rising spans with room between"));
    }
    for (std::uint64_t ordinal = span.first; ordinal < span.past(); ++ordinal) {
      REG_DO(check_ordinal(database, set, ordinal));
    }
    total += span.count;
    before = span.past();
  }
  if (total == 0 || total != card.units) {
    return Unexpected(badly_named(fmt::format("{} boards", total), fmt::format("{}", card.units)));
  }
  return {};
}

Try<std::vector<Range>> taken_back(Database& database, const AllotmentRow& row) {
  std::vector<Range> units;
  if (!row.scheme) {
    return units;
  }
  REG_TRY(query, database.query("SELECT g.first, g.past FROM again g JOIN sealing s ON s.allotment "
                                "= g.allotment WHERE g.scheme = ? AND g.allotment > ? AND g.first "
                                "<= ? AND g.first > ? - 1000 AND g.past > ? ORDER BY g.first"));
  query.bind(*row.scheme).bind(row.id).bind(row.last_ordinal());
  query.bind(row.range.first).bind(row.range.first);
  for (;;) {
    REG_TRY(more, query.next());
    if (!more) { // two later cards may name one board
      const auto by_unit = [](const Range& a, const Range& b) { return a.first < b.first; };
      std::sort(units.begin(), units.end(), by_unit);
      units.erase(std::unique(units.begin(), units.end()), units.end());
      return units;
    }
    for (std::uint64_t ordinal = query.number(0); ordinal < query.number(1); ++ordinal) {
      if (const std::optional<std::uint64_t> unit = row.unit_of(ordinal)) {
        units.push_back({*unit, 1});
      }
    }
  }
}

Try<void> insert_again(Database& database, const AllotmentRow& row) {
  for (const Range& span : row.again) {
    REG_TRY(insert, database.query("INSERT INTO again(allotment, numbers, scheme, first, past) "
                                   "VALUES(?, ?, ?, ?, ?)"));
    REG_DO(insert.bind(row.id)
               .bind(format::numbers_words[static_cast<std::size_t>(row.numbers)])
               .bind(row.scheme.value_or(""))
               .bind(span.first)
               .bind(span.past())
               .run());
  }
  return {};
}

std::vector<Range> read_spans(const std::string& text) {
  std::vector<Range> spans;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    const std::size_t gap = text.find(' ', at);
    Range span;
    if (gap < end && parse_uint(slice(text, at, gap - at), span.first) &&
        parse_uint(slice(text, gap + 1, end - gap - 1), span.count)) {
      spans.push_back(span);
    }
    at = end + 1;
  }
  return spans;
}

std::uint64_t AllotmentRow::ordinal_of(std::uint64_t unit) const {
  for (const Range& span : again) {
    if (unit < span.count) {
      return span.first + unit;
    }
    unit -= span.count;
  }
  return range.first + unit;
}

std::optional<std::uint64_t> AllotmentRow::unit_of(std::uint64_t ordinal) const {
  std::uint64_t before = 0;
  for (const Range& span : again) {
    if (ordinal >= span.first && ordinal < span.past()) {
      return before + ordinal - span.first;
    }
    before += span.count;
  }
  const bool inside = again.empty() && ordinal >= range.first && ordinal < range.past();
  return inside ? std::optional(ordinal - range.first) : std::nullopt;
}

} // namespace cardseal::registry
