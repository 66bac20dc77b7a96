#include "register/register.h"

#include "register/again.h"
#include "register/rows.h"

namespace cardseal::registry {

// A card's fates stand with its first allotment (f), and are those of all that are on it.
const char* const allotment_select =
    "SELECT a.id, a.lot, a.card, a.station, a.enrolment, a.serial, coalesce(w.scheme, (SELECT "
    "scheme "
    "FROM again WHERE allotment = a.id LIMIT 1)), r.first, "
    "r.past - r.first, a.units, a.slots, a.date_code, a.spare, l.manifest, l.product, l.class, "
    "l.work_order, s.text, d.allotment, o.begun_count, o.good_count, e.number, e.digest, e.time, "
    "(SELECT what FROM fate WHERE allotment = f.id ORDER BY id DESC LIMIT 1), "
    "o.entry > (SELECT entry FROM fate WHERE allotment = f.id AND what = 'returned' "
    "ORDER BY id DESC LIMIT 1) "
    "AND (SELECT what FROM fate WHERE allotment = f.id ORDER BY id DESC LIMIT 1) = 'returned' "
    "AND NOT EXISTS (SELECT 1 FROM fate WHERE allotment = f.id AND what IN ('erased', "
    "'destroyed')), "
    "(SELECT count(*) FROM fate WHERE allotment = f.id AND what IN ('erased', 'destroyed')), "
    "(SELECT coalesce(sum(units), 0) FROM allotment WHERE card = a.card AND id < a.id), "
    "(SELECT count(*) FROM allotment WHERE card = a.card), "
    "o.entry > (SELECT entry FROM fate WHERE allotment = f.id AND what = 'returned' AND id > "
    "coalesce((SELECT max(id) FROM fate WHERE allotment = f.id AND what = 'on-card'), 0) "
    "ORDER BY id DESC LIMIT 1), EXISTS(SELECT 1 FROM stop WHERE allotment = a.id), "
    "(SELECT numbers FROM again WHERE allotment = a.id LIMIT 1), "
    "(SELECT group_concat(first || ' ' || (past - first)) FROM (SELECT first, past FROM again "
    "WHERE allotment = a.id ORDER BY first)) "
    "FROM allotment a JOIN lot l ON l.id = a.lot JOIN entry e ON e.number = a.entry "
    "JOIN allotment f ON f.id = (SELECT min(id) FROM allotment WHERE card = a.card) "
    "LEFT JOIN range r ON r.id = a.range LEFT JOIN window w ON w.id = r.window "
    "LEFT JOIN sealing s ON s.allotment = a.id LEFT JOIN written d ON d.allotment = a.id "
    "LEFT JOIN outcome o ON o.allotment = a.id ";

AllotmentRow read_allotment(const Query& query) {
  AllotmentRow row;
  row.id = query.number(0);
  row.lot = query.number(1);
  (void)query.bytes_into(2, row.card); // the table allows no other length
  row.station = query.text(3);
  row.enrolment = query.number(4);
  row.serial = query.number(5);
  if (!query.is_null(6)) {
    row.scheme = query.text(6);
    row.range = {query.number(7), query.number(8)};
  }
  row.units = query.number(9);
  if (!query.is_null(31)) {
    row.numbers = value_of<format::Numbers>(query.text(31), format::numbers_words);
    row.again = read_spans(query.text(32));
    row.range = {row.again.front().first, row.units};
  }
  row.enabled_slots = query.number(10);
  if (!query.is_null(11)) {
    row.date_code = query.text(11);
  }
  row.spare = query.number(12) != 0;
  (void)query.bytes_into(13, row.manifest);
  row.product = query.text(14);
  row.work_class = query.text(15);
  row.work_order = query.text(16);
  format::Digest text{};
  if (query.bytes_into(17, text)) {
    row.sealed_text = text;
    row.state = query.is_null(18) ? State::sealed : State::written;
  }
  row.begun = query.number(19);
  row.good = query.number(20);
  row.entry_number = query.number(21);
  (void)query.bytes_into(22, row.entry);
  row.time = query.text(23);
  if (!query.is_null(24)) {
    row.fate = fate_of(query.text(24));
  }
  row.counted_after_return = query.number(25) != 0;
  row.rewritten = query.number(26) != 0;
  row.units_before = query.number(27);
  row.jobs_on_card = query.number(28);
  row.counted_once_back = query.number(29) != 0;
  row.stopped = query.number(30) != 0;
  return row;
}

const char* allotments_in_order() {
  static const std::string sql = std::string(allotment_select) + "ORDER BY a.id";
  return sql.c_str();
}

namespace {

Try<std::vector<AllotmentRow>> allotments_from(Query& query) {
  std::vector<AllotmentRow> rows;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return rows;
    }
    rows.push_back(read_allotment(query));
  }
}

} // namespace

Try<std::vector<AllotmentRow>> Register::allotments_of(std::string_view work_order) {
  static const std::string sql =
      std::string(allotment_select) +
      "WHERE a.lot IN (SELECT id FROM lot WHERE work_order = ?) ORDER BY a.id";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(work_order);
  return allotments_from(query);
}

Try<std::vector<AllotmentRow>> Register::allotments_on(const format::CardId& card) {
  static const std::string sql = std::string(allotment_select) + "WHERE a.card = ? ORDER BY a.id";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(card);
  return allotments_from(query);
}

Try<std::optional<AllotmentRow>> Register::allotment_by_id(std::uint64_t id) {
  static const std::string sql = std::string(allotment_select) + "WHERE a.id = ?";
  REG_TRY(query, database_.query(sql.c_str()));
  REG_TRY(row, query.bind(id).next());
  return row ? std::optional(read_allotment(query)) : std::nullopt;
}

Try<std::vector<AllotmentRow>> allotments_with(Database& database, std::string_view scheme,
                                               std::uint64_t ordinal) {
  // The one range of each window that could hold it, by the index over windows and first numbers;
  // and the cards of boards that came back.
  static const std::string sql =
      std::string(allotment_select) +
      "WHERE a.id IN (SELECT c.id FROM range q JOIN allotment c ON c.range = q.id WHERE q.past > "
      "?2 AND q.id IN (SELECT (SELECT id FROM range WHERE window = v.id AND first <= ?2 ORDER BY "
      "first DESC LIMIT 1) FROM window v WHERE v.scheme = ?1 AND v.first <= ?2 AND v.last >= ?2) "
      "UNION ALL SELECT allotment FROM again WHERE scheme = ?1 AND first <= ?2 AND first > "
      "?2 - 1000 AND past > ?2) ORDER BY a.id";
  REG_TRY(query, database.query(sql.c_str()));
  query.bind(scheme).bind(ordinal);
  return allotments_from(query);
}

Try<std::vector<AllotmentRow>> Register::allotments_with(std::string_view scheme,
                                                         std::uint64_t ordinal) {
  return registry::allotments_with(database_, scheme, ordinal);
}

Try<void> Register::each_allotment(const std::function<void(const AllotmentRow&)>& take) {
  REG_TRY(query, database_.query(allotments_in_order()));
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return {};
    }
    take(read_allotment(query));
  }
}

Try<std::optional<UnitResult>> Register::result_of(std::uint64_t allotment, std::uint64_t unit) {
  REG_TRY(query, database_.query("SELECT substr(begun, ?2, 1), substr(good, ?2, 1) FROM outcome "
                                 "WHERE allotment = ?1"));
  REG_TRY(row, query.bind(allotment).bind(unit / 8 + 1).next());
  std::array<std::uint8_t, 1> begun{};
  std::array<std::uint8_t, 1> good{};
  if (!row || !query.bytes_into(0, begun) || !query.bytes_into(1, good)) {
    return std::optional<UnitResult>();
  }
  return std::optional(
      UnitResult{(begun[0] >> unit % 8 & 1U) != 0, (good[0] >> unit % 8 & 1U) != 0});
}

Try<std::optional<Results>> Register::results_of(std::uint64_t allotment) {
  REG_TRY(query, database_.query("SELECT begun, good FROM outcome WHERE allotment = ?"));
  REG_TRY(row, query.bind(allotment).next());
  return row ? std::optional(Results{query.bytes(0), query.bytes(1)}) : std::nullopt;
}

Try<void> Register::each_entry(const std::function<void(const EntryRow&)>& take) {
  REG_TRY(query, database_.query("SELECT body, digest, time FROM entry ORDER BY number"));
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return {};
    }
    EntryRow entry;
    entry.body = query.text(0);
    (void)query.bytes_into(1, entry.digest);
    entry.time = query.text(2);
    take(entry);
  }
}

Try<std::vector<RangeRow>> Register::ranges() {
  REG_TRY(query,
          database_.query("SELECT w.scheme, r.first, r.past - r.first, r.use, r.note, e.time FROM "
                          "range r JOIN window w ON w.id = r.window JOIN entry e ON e.number = "
                          "r.entry WHERE r.use IN ('hand', 'abandon', 'lost') ORDER BY r.id"));
  std::vector<RangeRow> rows;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return rows;
    }
    const std::string use = query.text(3);
    rows.push_back({query.text(0),
                    {query.number(1), query.number(2)},
                    use == "hand"   ? Use::hand
                    : use == "lost" ? Use::lost
                                    : Use::abandon,
                    query.text(4),
                    query.text(5)});
  }
}

Try<std::vector<WindowRow>> Register::windows() {
  REG_TRY(query,
          database_.query("SELECT key, scheme, first, last, (SELECT max(past) FROM range WHERE "
                          "window = w.id) FROM window w ORDER BY scheme, first"));
  std::vector<WindowRow> rows;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return rows;
    }
    WindowRow window;
    (void)query.bytes_into(0, window.key);
    window.scheme = query.text(1);
    window.first = query.number(2);
    window.last = query.number(3);
    window.next = query.number(4);
    rows.push_back(std::move(window));
  }
}

Try<std::vector<Enrolled>> Register::stations() {
  std::vector<Enrolled> rows;
  std::vector<std::string> names;
  {
    REG_TRY(query, database_.query("SELECT DISTINCT station FROM enrolment ORDER BY station"));
    for (;;) {
      REG_TRY(row, query.next());
      if (!row) {
        break;
      }
      names.push_back(query.text(0));
    }
  }
  for (const std::string& name : names) {
    format::Id station;
    if (station.set(name)) {
      REG_TRY(now, station_now(database_, station));
      rows.push_back(now);
    }
  }
  return rows;
}

} // namespace cardseal::registry
