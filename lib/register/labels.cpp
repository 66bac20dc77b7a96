// Labels with numbers: what was exported for printing, and what became of each.
#include "register/register.h"

#include <algorithm>

#include <fmt/format.h>

#include "register/rows.h"

namespace cardseal::registry {
namespace {

bool may_follow(const std::optional<LabelFate>& before, LabelFate next) {
  switch (next) {
  case LabelFate::printed:
    return !before || before == LabelFate::scrapped;
  case LabelFate::applied:
    return before == LabelFate::printed;
  case LabelFate::scrapped:
    return before == LabelFate::printed || before == LabelFate::applied;
  }
  return false;
}

std::string_view word_of(const std::optional<LabelFate>& fate) {
  return fate ? label_words[static_cast<std::size_t>(*fate)] : "nothing";
}

Try<void> check_order(const std::vector<LabelNote>& before, const LabelNote& next) {
  const LabelStates last = last_of(before, next.units);
  for (std::uint64_t i = 0; i < next.units.count; ++i) {
    if (!may_follow(last[i], next.what)) {
      return Unexpected(refused(
          "label-order", "this can't become of a label after what was noted before",
          fmt::format("unit {} of allotment {}: {} after {}", next.units.first + i + 1,
                      next.allotment, word_of(next.what), word_of(last[i])),
          "a label is printed, then applied or scrapped", "cardseal label show lists them"));
    }
  }
  return {};
}

struct Card {
  std::string work_order;
  std::uint64_t units = 0;
  bool numbered = false;
  bool comes_back = false; // its boards have numbers
};

Try<Card> card_of_allotment(Database& database, std::uint64_t allotment) {
  REG_TRY(query, database.query("SELECT l.work_order, a.units, a.range, EXISTS(SELECT 1 FROM again "
                                "WHERE allotment = a.id) FROM allotment a JOIN lot l ON l.id = "
                                "a.lot WHERE a.id = ?"));
  REG_TRY(row, query.bind(allotment).next());
  return row ? Card{query.text(0), query.number(1), !query.is_null(2), query.number(3) != 0}
             : Card{};
}

Try<void> check_units(const Card& card, const LabelNote& note) {
  if (card.comes_back) {
    return Unexpected(refused("label-none", "the boards of this card have their labels",
                              fmt::format("allotment {}", note.allotment),
                              "a card that gives new numbers",
                              "print and scrap labels by the card that gave the number"));
  }
  if (!card.numbered) {
    return Unexpected(refused("label-none", "this card has no numbers, so no labels either",
                              fmt::format("allotment {}", note.allotment),
                              "a card whose release has a serial scheme", ""));
  }
  if (note.units.count == 0 || note.units.past() > card.units) {
    return Unexpected(refused("label-outside", "these units are not all of this allotment",
                              fmt::format("{} to {}", note.units.first + 1, note.units.past()),
                              fmt::format("1 to {}", card.units),
                              "cardseal label show lists them"));
  }
  return {};
}

} // namespace

LabelStates last_of(const std::vector<LabelNote>& notes, const Range& units) {
  LabelStates last(units.count);
  for (const LabelNote& note : notes) {
    const std::uint64_t past = std::min(note.units.past(), units.past());
    for (std::uint64_t unit = std::max(note.units.first, units.first); unit < past; ++unit) {
      last[unit - units.first] = note.what;
    }
  }
  return last;
}

const char* const label_columns =
    "SELECT b.entry, allotment, first, past - first, what, said_by, note, time FROM label b JOIN "
    "entry e ON e.number = b.entry";

LabelNote read_label(const Query& query, std::uint64_t& entry) {
  entry = query.number(0);
  return {query.number(1),
          {query.number(2), query.number(3)},
          value_of<LabelFate>(query.text(4), label_words),
          query.text(5),
          query.text(6),
          query.text(7)};
}

Try<void> Register::note_labels(const std::vector<LabelNote>& notes, bool rehearse) {
  REG_TRY(step, begin());
  for (const LabelNote& note : notes) {
    REG_DO(check_note(note.by, "who says so"));
    REG_DO(check_note(note.note, "the note"));
    REG_TRY(card, card_of_allotment(database_, note.allotment));
    REG_DO(check_lot_open(database_, card.work_order));
    REG_DO(check_units(card, note));
    REG_TRY(before, labels_of(note.allotment));
    REG_DO(check_order(before, note));
    Head& head = step.head;
    REG_DO(append(database_, head, label_body(head.entries + 1, note)));
    REG_TRY(insert,
            database_.query("INSERT INTO label(allotment, first, past, what, said_by, note, "
                            "entry) VALUES(?, ?, ?, ?, ?, ?, ?)"));
    REG_DO(insert.bind(note.allotment)
               .bind(note.units.first)
               .bind(note.units.past())
               .bind(word_of(note.what))
               .bind(note.by)
               .bind(note.note)
               .bind(head.entries)
               .run());
  }
  return rehearse ? Try<void>() : finish(step);
}

Try<std::vector<LabelNote>> Register::labels_of(std::uint64_t allotment) {
  static const std::string sql = std::string(label_columns) + " WHERE allotment = ? ORDER BY b.id";
  REG_TRY(query, database_.query(sql.c_str()));
  query.bind(allotment);
  return rows_of(query, read_label);
}

} // namespace cardseal::registry
