// What became of each card: on a memory card, back, destroyed, lost.
#include "register/register.h"

#include <algorithm>

#include <fmt/format.h>

#include "register/rows.h"

namespace cardseal::registry {
namespace {

std::string_view word_of(Fate fate) {
  return fate_words[static_cast<std::size_t>(fate)];
}

// What becomes of a card is kept with its first allotment.
Try<std::uint64_t> allotment_of(Database& database, const format::CardId& card) {
  REG_TRY(query, database.query("SELECT id FROM allotment WHERE card = ? ORDER BY id LIMIT 1"));
  REG_TRY(row, query.bind(card).next());
  if (!row) {
    return Unexpected(refused("card-unknown", "this register made no card of this id",
                              crypto::hex(card), "the id of a card that was made from it",
                              "cardseal serial list shows them; name the register of the desk that "
                              "made the card"));
  }
  return query.number(0);
}

Try<std::vector<FateRow>> fates_of_allotment(Database& database, std::uint64_t allotment) {
  REG_TRY(query, database.query("SELECT f.what, f.said_by, f.note, e.time FROM fate f JOIN entry e "
                                "ON e.number = f.entry WHERE f.allotment = ? ORDER BY f.id"));
  query.bind(allotment);
  std::vector<FateRow> rows;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return rows;
    }
    rows.push_back({{fate_of(query.text(0)), query.text(1), query.text(2)}, query.text(3)});
  }
}

// Two cards of one image carry the same numbers, so a second one waits until nobody can use the
// first. What was lost can turn up, what was destroyed can't; only what somebody has can be erased.
bool may_follow(const std::optional<Fate>& before, Fate next) {
  const bool gone = before == Fate::destroyed || before == Fate::erased;
  switch (next) {
  case Fate::on_card:
    return !before || gone;
  case Fate::lost:
    return before != Fate::lost && !gone;
  case Fate::returned:
    return !gone;
  case Fate::erased:
    return before == Fate::on_card || before == Fate::returned;
  case Fate::destroyed:
    return before != Fate::destroyed;
  }
  return false;
}

Error out_of_order(const std::optional<Fate>& before, Fate next) {
  const char* hint = next == Fate::on_card
                         ? "make another card; or, when that one can't be used any more, note "
                           "first that it was erased or destroyed, and by whom"
                         : "what was noted stays; see cardseal serial list";
  return refused("fate-order", "this can't be noted after what became of the card before",
                 fmt::format("{} after {}", word_of(next), before ? word_of(*before) : "nothing"),
                 "", hint);
}

Try<bool> is_begun(Database& database, const format::CardId& card) {
  REG_TRY(query, database.query("SELECT 1 FROM allotment a JOIN outcome o ON o.allotment = a.id "
                                "WHERE a.card = ? AND o.begun_count > 0"));
  return query.bind(card).next();
}

// A station that reads plain files would begin at the first number again.
Error results_known() {
  return refused("card-used", "units of this card were begun, so its image goes on no card again",
                 "results in the register", "a card that nobody worked with",
                 "make a new card for the units that are left: cardseal card make");
}

// Each sealed allotment of the card has its one stop, and none has one before.
Try<void> check_stops(const std::vector<AllotmentRow>& rows, const std::vector<Stop>& stops) {
  std::size_t sealed = 0;
  for (const AllotmentRow& row : rows) {
    if (row.stopped) {
      return Unexpected(refused("stop-kept", "what stops this card is kept already",
                                crypto::hex(row.card), "a card that nothing stops yet",
                                "the same command without a key writes it again"));
    }
    const bool named = std::any_of(stops.begin(), stops.end(),
                                   [&](const Stop& stop) { return stop.allotment == row.id; });
    if (row.sealed_text.has_value() != named) {
      return Unexpected(refused("stop-form", "a stop is for what was signed for the card",
                                fmt::format("allotment {}", row.id), "one for each that was sealed",
                                ""));
    }
    sealed += named ? 1U : 0U;
  }
  if (sealed == 0) {
    return Unexpected(refused("stop-none", "nothing was ever signed for this card",
                              rows.empty() ? std::string() : crypto::hex(rows.front().card),
                              "a card that a station could work with",
                              "there is no card to lose: its numbers are spent all the same"));
  }
  if (sealed != stops.size()) {
    return Unexpected(refused("stop-form", "a stop is for what was signed for the card",
                              fmt::format("{} stops", stops.size()), fmt::format("{}", sealed),
                              ""));
  }
  return {};
}

Try<void> insert_stop(Database& database, Head& head, const Stop& stop) {
  REG_DO(append(database, head, stop_body(head.entries + 1, stop)));
  REG_TRY(insert, database.query("INSERT INTO stop(allotment, text, signature, entry) "
                                 "VALUES(?, ?, ?, ?)"));
  return insert.bind(stop.allotment).bind(stop.text).bind(stop.signature).bind(head.entries).run();
}

} // namespace

Fate fate_of(std::string_view word) {
  const auto* at = std::find(fate_words.begin(), fate_words.end(), word);
  return static_cast<Fate>(at - fate_words.begin());
}

const char* const stop_columns = "SELECT s.entry, s.allotment, s.text, s.signature, e.time FROM "
                                 "stop s JOIN entry e ON e.number = "
                                 "s.entry";

Stop read_stop(const Query& query, std::uint64_t& entry) {
  entry = query.number(0);
  Stop stop;
  stop.allotment = query.number(1);
  stop.text = query.bytes(2);
  (void)query.bytes_into(3, stop.signature); // the table allows no other length
  stop.time = query.text(4);
  return stop;
}

Try<void> Register::note_fate_in(Step& step, const format::CardId& card, const FateNote& note) {
  REG_TRY(allotment, allotment_of(database_, card));
  REG_TRY(earlier, fates_of_allotment(database_, allotment));
  const std::optional<Fate> before =
      earlier.empty() ? std::nullopt : std::optional(earlier.back().note.fate);
  if (!may_follow(before, note.fate)) {
    return Unexpected(out_of_order(before, note.fate));
  }
  REG_TRY(begun, is_begun(database_, card));
  if (note.fate == Fate::on_card && begun) {
    return Unexpected(results_known());
  }
  Head& head = step.head;
  const std::string_view what = word_of(note.fate);
  REG_DO(append(database_, head, fate_body(head.entries + 1, allotment, what, note.by, note.note)));
  REG_TRY(insert, database_.query("INSERT INTO fate(allotment, what, said_by, note, entry) "
                                  "VALUES(?, ?, ?, ?, ?)"));
  return insert.bind(allotment).bind(what).bind(note.by).bind(note.note).bind(head.entries).run();
}

Try<void> Register::note_fate(const format::CardId& card, const FateNote& note, bool rehearse) {
  REG_DO(check_note(note.by, "who says so"));
  REG_DO(check_note(note.note, "the note"));
  REG_TRY(step, begin());
  REG_DO(note_fate_in(step, card, note));
  return rehearse ? Try<void>() : finish(step);
}

Try<void> Register::note_lost(const format::CardId& card, const FateNote& note,
                              const std::vector<Stop>& stops, bool rehearse) {
  REG_DO(check_note(note.by, "who says so"));
  REG_DO(check_note(note.note, "the note"));
  REG_TRY(step, begin());
  REG_TRY(known, fates_of(card));
  if (known.empty() || known.back().note.fate != Fate::lost) {
    REG_DO(note_fate_in(step, card, {Fate::lost, note.by, note.note}));
  }
  REG_TRY(rows, allotments_on(card));
  REG_DO(check_stops(rows, stops));
  for (const Stop& stop : stops) {
    REG_DO(insert_stop(database_, step.head, stop));
  }
  return rehearse ? Try<void>() : finish(step);
}

Try<std::vector<Stop>> Register::stops_of(const format::CardId& card) {
  static const std::string sql =
      std::string(stop_columns) +
      " WHERE s.allotment IN (SELECT id FROM allotment WHERE card = ?) ORDER BY s.allotment";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(card);
  return rows_of(query, read_stop);
}

Try<std::vector<FateRow>> Register::fates_of(const format::CardId& card) {
  REG_TRY(allotment, allotment_of(database_, card));
  return fates_of_allotment(database_, allotment);
}

} // namespace cardseal::registry
