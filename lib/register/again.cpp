#include "register/again.h"

#include <fmt/format.h>

#include "base/number.h"

namespace cardseal::registry {
namespace {

Error unknown(std::uint64_t ordinal, std::string found) {
  return refused("again-unknown", "no log here says that a board got this number", std::move(found),
                 fmt::format("ordinal {} on a board", ordinal),
                 "reconcile the card that gave it, or leave the board out");
}

// By the one range of each window that could hold it, as allotments_with looks it up.
Try<void> check_ordinal(Database& database, std::string_view scheme, std::uint64_t ordinal) {
  REG_TRY(query,
          database.query(
              "SELECT a.id, substr(o.begun, (?2 - r.first) / 8 + 1, 1), (?2 - r.first) % 8, "
              "(SELECT what FROM settled s WHERE s.allotment = a.id AND s.first <= ?2 - r.first "
              "AND s.past > ?2 - r.first AND what <> 'conceded') "
              "FROM range r JOIN allotment a ON a.range = r.id LEFT JOIN outcome o ON o.allotment "
              "= a.id WHERE r.id IN (SELECT (SELECT id FROM range WHERE window = v.id AND first "
              "<= ?2 ORDER BY first DESC LIMIT 1) FROM window v WHERE v.scheme = ?1 AND v.first "
              "<= ?2 AND v.last >= ?2) AND r.past > ?2"));
  REG_TRY(row, query.bind(scheme).bind(ordinal).next());
  if (!row) {
    return Unexpected(unknown(ordinal, "it was given to no card"));
  }
  std::array<std::uint8_t, 1> begun{};
  if (!query.bytes_into(1, begun) || (begun[0] >> query.number(2) & 1U) == 0) {
    return Unexpected(unknown(
        ordinal, fmt::format("unit of allotment {}: not begun by its log", query.number(0))));
  }
  if (!query.is_null(3)) {
    return Unexpected(refused("again-gone", "no board has this number any more",
                              fmt::format("ordinal {}: {}", ordinal, query.text(3)),
                              "a number that a board has", "leave it out of the order"));
  }
  return {};
}

} // namespace

Try<void> check_again(Database& database, std::string_view scheme, const CardRequest& card) {
  std::uint64_t total = 0;
  std::uint64_t before = 0;
  for (const Range& span : card.again) {
    if (span.count == 0 || (total != 0 && span.first <= before)) {
      return Unexpected(refused("again-spans", "the boards' numbers are not in order",
                                std::to_string(span.first), "rising spans with room between", ""));
    }
    for (std::uint64_t ordinal = span.first; ordinal < span.past(); ++ordinal) {
      REG_DO(check_ordinal(database, scheme, ordinal));
    }
    total += span.count;
    before = span.past();
  }
  if (total != card.units) {
    return Unexpected(refused("again-spans", "units and the boards' numbers differ",
                              fmt::format("{} units", card.units), fmt::format("{}", total), ""));
  }
  return {};
}

Try<void> insert_again(Database& database, const AllotmentRow& row) {
  for (const Range& span : row.again) {
    REG_TRY(insert, database.query("INSERT INTO again(allotment, scheme, first, past) VALUES(?, ?, "
                                   "?, ?)"));
    REG_DO(
        insert.bind(row.id).bind(row.scheme.value_or("")).bind(span.first).bind(span.past()).run());
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
