#include <algorithm>
#include <numeric>

#include "page/lot_parts.h"
#include "page/render.h"
#include "page/statement_parts.h"

namespace cardseal::page {
namespace {

using format::CardEnd;
using format::Close;

bool is_gone(CardEnd end) {
  return end == CardEnd::lost || end == CardEnd::destroyed;
}

void put_points(Fields& page, const Close& c) {
  page.show_if(c.points.count == 0, "NO_POINTS");
  std::size_t index = 0;
  for (const format::Text<160>& point : c.points.view()) {
    Fields& row = page.add("POINT");
    row.set("AT", index++);
    row.set("TEXT", point.view());
  }
}

void put_units(Fields& page, const Close& c) {
  const format::UnitCounts& u = c.units;
  const std::pair<std::string_view, std::uint64_t> counts[] = {
      {"good", u.good},         {"conceded", u.conceded}, {"scrapped", u.scrapped},
      {"reworked", u.reworked}, {"no_board", u.no_board}, {"unused", u.unused},
      {"unknown", u.unknown}};
  for (const auto& [key, units] : counts) {
    Fields& row = page.add("UNIT_COUNT");
    row.set("KEY", key);
    row.set("NAME", words_of("closed", key));
    row.set("EXPLAINED", words_of("closed-means", key));
    row.set("UNITS", units);
    row.set("SHARE", share(units, c.issued));
  }
  page.set("SUM", u.sum());
  page.set("SUM_SHARE", share(u.sum(), c.issued));
  page.show(u.sum() == c.issued ? "UNITS_ADD_UP" : "UNITS_DIFFER");
}

// One row a card for all its packages, as the text has it; its notes are the card's.
const CardOfSet* noted(const StatementInput& in, const format::CardId& card) {
  const std::vector<CardOfSet>& cards = in.registered->cards;
  const auto found = std::find_if(cards.begin(), cards.end(),
                                  [&](const CardOfSet& each) { return each.row.card == card; });
  return found == cards.end() ? nullptr : &*found;
}

void put_notes(Fields& row, const StatementInput& in, const format::CardId& card) {
  if (in.registered == nullptr) {
    return row.show("REGISTER_TELLS");
  }
  const CardOfSet* found = noted(in, card);
  if (found == nullptr || found->fates.empty()) {
    return row.show("NO_NOTES");
  }
  put_fates(row, found->fates);
}

void put_card_row(Fields& page, const StatementInput& in, const format::ClosedCard& card,
                  std::size_t index) {
  Fields& row = page.add("CLOSED_CARD");
  row.set("AT", index);
  row.set("CARD", crypto::hex(card.card));
  row.set("STATION", card.station.view());
  row.set("END", words_of("card-end", card.end, format::card_end_words));
  row.set("END_SEALED", format::card_end_words[static_cast<std::size_t>(card.end)]);
  row.set("UNITS", card.units);
  row.set("GOOD", card.good);
  row.show_if(is_gone(card.end), "CARD_GONE");
  put_notes(row, in, card.card);
}

// How many cards ended where.
void put_card_sums(Fields& page, const Close& c) {
  std::uint64_t gone = 0;
  for (std::size_t end = 0; end < format::card_end_words.size(); ++end) {
    const auto cards = c.cards.view();
    const auto count =
        static_cast<std::uint64_t>(std::count_if(cards.begin(), cards.end(), [&](const auto& card) {
          return static_cast<std::size_t>(card.end) == end;
        }));
    gone += is_gone(static_cast<CardEnd>(end)) ? count : 0;
    if (count != 0) {
      Fields& row = page.add("CARD_SUM");
      row.set("KEY", format::card_end_words[end]);
      row.set("NAME", words_of("card-end", format::card_end_words[end]));
      row.set("COUNT", count);
    }
  }
  if (gone != 0) {
    page.add("ANY_GONE").set("GONE", gone);
  }
}

void put_cards(Fields& page, const Close& c, const StatementInput& in) {
  const auto cards = c.cards.view();
  std::vector<std::size_t> order(cards.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto rank = [&](std::size_t at) { // lost ones first, then destroyed ones; then by station
    const CardEnd end = cards[at].end;
    return std::pair{is_gone(end) ? -static_cast<int>(end) : 0, cards[at].station.view()};
  };
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return rank(a) < rank(b); });
  std::uint64_t units = 0;
  std::uint64_t good = 0;
  for (const std::size_t at : order) {
    put_card_row(page, in, cards[at], at);
    units += cards[at].units;
    good += cards[at].good;
  }
  page.set("CARDS", cards.size());
  page.set("CARD_UNITS", units);
  page.set("CARD_GOOD", good);
  page.show(units == c.issued && good == c.units.good ? "CARDS_ADD_UP" : "CARDS_DIFFER");
  put_card_sums(page, c);
}

void put_labels(Fields& page, const format::Maybe<format::Labels>& labels) {
  if (!labels.present) {
    return page.show("NO_LABELS");
  }
  const format::Labels& l = labels.value;
  Fields& out = page.add("LABEL_COUNTS");
  out.set("PRINTED", l.printed);
  out.set("APPLIED", l.applied);
  out.set("SCRAPPED", l.scrapped);
  const bool adds_up = std::uint64_t{l.applied} + l.scrapped == l.printed;
  out.show(adds_up ? "LABELS_ADD_UP" : "LABELS_DIFFER");
}

void put_deviation_uses(Fields& page, const Close& c) {
  if (c.deviations.count == 0) {
    return page.show("NO_DEVIATIONS");
  }
  Fields& table = page.add("DEVIATION_USES");
  std::size_t index = 0;
  for (const format::DeviationUse& use : c.deviations.view()) {
    Fields& row = table.add("DEVIATION_USE");
    row.set("AT", index++);
    row.set("NUMBER", use.number.view());
    row.set("BOARDS", use.boards);
    row.set("ALLOWED", use.allowed);
    const bool holds = use.boards <= use.allowed;
    Fields& left = row.add(holds ? "LEFT_OVER" : "OVERRUN");
    left.set("COUNT", holds ? use.allowed - use.boards : use.boards - use.allowed);
  }
}

void put_packages(Fields& page, const Close& c, const StatementInput& in) {
  std::size_t index = 0;
  for (const format::Digest& manifest : c.manifests.view()) {
    Fields& row = page.add("CLOSED_PACKAGE");
    row.set("AT", index++);
    row.set("PACKAGE", crypto::spell_digest(manifest));
    if (const package::Package* package = package_of(in, manifest)) {
      Fields& known = row.add("KNOWN");
      known.set("PRODUCT", package->manifest.product.view());
      known.set("RELEASE", package->manifest.release.view());
    }
  }
}

void put_shipping(Fields& page, const Close& c) {
  if (c.work_class == format::WorkClass::engineering) {
    return page.show("SHIPS_NONE");
  }
  page.add("SHIPS").set("CAN_SHIP", c.units.good + c.units.conceded);
}

} // namespace

std::string statement_page(const Close& c, const StatementInput& in) {
  Fields page;
  put_signed(page, c, in, true);
  page.show_if(!format::adds_up(c), "SUMS_DIFFER");
  page.set("ISSUED", c.issued);
  page.set("ORDERED", c.ordered);
  page.set("CLASS", words_of("class", c.work_class, format::work_class_words));
  page.set("CLASS_SEALED", format::work_class_words[static_cast<std::size_t>(c.work_class)]);
  page.set("ENTRY", c.register_entry);
  page.set("HEAD", crypto::spell_digest(c.register_head));
  put_shipping(page, c);
  put_points(page, c);
  put_units(page, c);
  put_cards(page, c, in);
  put_labels(page, c.labels);
  put_deviation_uses(page, c);
  put_packages(page, c, in);
  return render("closure.html", page);
}

} // namespace cardseal::page
