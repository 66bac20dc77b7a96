// Kinds `first-article`, `concession` and `close`: what quality signs about a lot. For people and
// desks; no station reads them.
#pragma once

#include "format/card_texts.h"
#include "format/signoff.h"

namespace cardseal::format {

// A unit's memory read back and compared, every difference explained: one with an unexplained
// difference is never spelled.
struct FirstArticle {
  static constexpr std::string_view kind = "first-article";
  static constexpr std::size_t limit = 2048;

  Digest owner{};
  Digest manifest{};
  Id product;
  Name work_order;
  CardId card{};
  std::uint64_t ordinal = 0; // without serials: the unit's place on its card
  Maybe<Text<128>> serial;   // as its label reads
  Digest read_back{};        // of the file as it came from the board
  std::uint32_t equal = 0;   // bytes, like those below
  std::uint32_t serial_bytes = 0;
  std::uint32_t kept = 0;
  std::uint32_t configuration = 0;
  std::uint32_t unreadable = 0;
  std::uint32_t erased = 0; // read as erased where the image has nothing
  Id person;
  Text<96> reason;
  Utc time;
};

template <class V>
void visit(V& v, FirstArticle& f) {
  digest_line(v, "owner", f.owner);
  digest_line(v, "manifest", f.manifest);
  id_line(v, "product", f.product);
  line(v, "work-order", [&] { v.quoted(f.work_order, Charset::display); });
  line(v, "card", [&] { v.bytes(f.card); });
  uint_line(v, "ordinal", f.ordinal, 0, max_ordinal);
  line(v, "serial",
       [&] { v.optional(f.serial.present, [&] { v.quoted(f.serial.value, Charset::display); }); });
  digest_line(v, "read-back", f.read_back);
  uint_line(v, "equal", f.equal, 1, 0xFFFF'FFFF);
  uint_line(v, "serial-bytes", f.serial_bytes, 0, 0xFFFF'FFFF);
  uint_line(v, "kept", f.kept, 0, 0xFFFF'FFFF);
  uint_line(v, "configuration", f.configuration, 0, 0xFFFF'FFFF);
  uint_line(v, "unreadable", f.unreadable, 0, 0xFFFF'FFFF);
  uint_line(v, "erased", f.erased, 0, 0xFFFF'FFFF);
  id_line(v, "person", f.person);
  line(v, "reason", [&] { v.quoted(f.reason, Charset::people); });
  line(v, "time", [&] { v.utc(f.time); });
}

struct UnitRange { // of a card, both included, 1 its first unit; over all its packages in order
  CardId card{};
  std::uint32_t first = 1;
  std::uint32_t last = 1;
};

// Finished units that quality lets ship although their log does not say good.
struct Concession {
  static constexpr std::string_view kind = "concession";
  static constexpr std::size_t limit = 8192;

  Digest owner{};
  Text<24> number; // the company's own
  Name work_order;
  List<UnitRange, 64> units;
  Id person;
  Text<96> reason;
  Utc time;
};

template <class V>
void visit(V& v, Concession& c) {
  digest_line(v, "owner", c.owner);
  line(v, "number", [&] { v.quoted(c.number, Charset::display); });
  line(v, "work-order", [&] { v.quoted(c.work_order, Charset::display); });
  lines(
      v, "ranges", "units", c.units,
      [&](UnitRange& range) {
        v.bytes(range.card);
        v.uint(range.first, 1, 9'999'999);
        v.uint(range.last, range.first, 9'999'999);
      },
      1);
  id_line(v, "person", c.person);
  line(v, "reason", [&] { v.quoted(c.reason, Charset::people); });
  line(v, "time", [&] { v.utc(c.time); });
}

// Where a card was when its lot was closed.
enum class CardEnd : std::uint8_t { not_made, counted, destroyed, lost };
inline constexpr std::array<std::string_view, 4> card_end_words{"not-made", "counted", "destroyed",
                                                                "lost"};

struct ClosedCard {
  CardId card{};
  Id station;
  CardEnd end = CardEnd::counted;
  std::uint32_t units = 1;
  std::uint32_t good = 0;
};

struct DeviationUse {
  Text<24> number;
  std::uint32_t boards = 0; // on all cards of the package, of every lot
  std::uint32_t allowed = 1;
};

struct Labels {
  std::uint32_t printed = 0;
  std::uint32_t applied = 0;
  std::uint32_t scrapped = 0;
};

struct UnitCounts { // each unit that was issued is one of these
  std::uint64_t good = 0;
  std::uint64_t conceded = 0;
  std::uint64_t scrapped = 0;
  std::uint64_t reworked = 0; // the board has another number now, or was on a later card again
  std::uint64_t no_board = 0;
  std::uint64_t unused = 0;
  std::uint64_t unknown = 0; // on cards that never came back
  friend constexpr bool operator==(const UnitCounts&, const UnitCounts&) = default;
  constexpr std::uint64_t sum() const {
    return good + conceded + scrapped + reworked + no_board + unused + unknown;
  }
};

// Quality's statement that a lot is accounted for: none with an open unit is ever spelled.
struct Close {
  static constexpr std::string_view kind = "close";
  static constexpr std::size_t limit = 32'768;

  Digest owner{};
  Name work_order;
  WorkClass work_class = WorkClass::production;
  List<Digest, 8> manifests;
  std::uint32_t ordered = 1; // boards
  std::uint64_t issued = 1;
  UnitCounts units;
  List<ClosedCard, 200> cards;
  List<DeviationUse, 8> deviations;
  Maybe<Labels> labels;
  List<Text<160>, 32> points; // what stays to be known, in words
  std::uint64_t register_entry = 1;
  Digest register_head{};
  Id person;
  Text<96> reason;
  Utc time;
};

// Each unit is told once, and each label that was printed. No text that fails this counts.
constexpr bool adds_up(const Close& c) {
  const Labels& labels = c.labels.value;
  std::uint64_t units = 0;
  std::uint64_t good = 0;
  for (const ClosedCard& card : c.cards.view()) {
    units += card.units;
    good += card.good;
  }
  return c.units.sum() == c.issued && units == c.issued && good == c.units.good &&
         (!c.labels.present || std::uint64_t{labels.applied} + labels.scrapped == labels.printed);
}

inline constexpr std::uint64_t max_lot_units = 9'999'999'999;

template <class V>
void visit_unit_counts(V& v, UnitCounts& u) {
  uint_line(v, "good", u.good, 0, max_lot_units);
  uint_line(v, "conceded", u.conceded, 0, max_lot_units);
  uint_line(v, "scrapped", u.scrapped, 0, max_lot_units);
  uint_line(v, "reworked", u.reworked, 0, max_lot_units);
  uint_line(v, "no-board", u.no_board, 0, max_lot_units);
  uint_line(v, "unused", u.unused, 0, max_lot_units);
  uint_line(v, "unknown", u.unknown, 0, max_lot_units);
}

template <class V>
void visit_closed_cards(V& v, Close& c) {
  lines(
      v, "cards", "card", c.cards,
      [&](ClosedCard& card) {
        v.bytes(card.card);
        v.id(card.station);
        v.word(card.end, card_end_words);
        v.uint(card.units, 1, 9'999'999);
        v.uint(card.good, 0, 9'999'999);
      },
      1, Order::first_field);
  lines(
      v, "deviations", "deviation", c.deviations,
      [&](DeviationUse& use) {
        v.quoted(use.number, Charset::display);
        v.uint(use.boards, 0, 999'999'999);
        v.uint(use.allowed, 1, 999'999'999);
      },
      0, Order::first_field);
}

template <class V>
void visit(V& v, Close& c) {
  digest_line(v, "owner", c.owner);
  line(v, "work-order", [&] { v.quoted(c.work_order, Charset::display); });
  line(v, "class", [&] { v.word(c.work_class, work_class_words); });
  lines(
      v, "manifests", "manifest", c.manifests, [&](Digest& digest) { v.digest(digest); }, 1);
  uint_line(v, "ordered", c.ordered, 1, 9'999'999);
  uint_line(v, "issued", c.issued, 1, max_lot_units);
  visit_unit_counts(v, c.units);
  visit_closed_cards(v, c);
  line(v, "labels", [&] {
    v.optional(c.labels.present, [&] {
      v.uint(c.labels.value.printed, 0, 9'999'999);
      v.uint(c.labels.value.applied, 0, 9'999'999);
      v.uint(c.labels.value.scrapped, 0, 9'999'999);
    });
  });
  lines(v, "points", "point", c.points,
        [&](Text<160>& point) { v.quoted(point, Charset::people); });
  uint_line(v, "register-entry", c.register_entry, 1, 999'999'999'999);
  digest_line(v, "register-head", c.register_head);
  id_line(v, "person", c.person);
  line(v, "reason", [&] { v.quoted(c.reason, Charset::people); });
  line(v, "time", [&] { v.utc(c.time); });
}

} // namespace cardseal::format
