#include "page/render.h"
#include "page/statement_parts.h"
#include "trace/trace.h"

namespace cardseal::page {
namespace {

// The allotment that a unit of the card belongs to; null: no register was given, or it has none. A
// card of several packages has an allotment of each, and its units are counted within one: which,
// the text does not say.
const registry::AllotmentRow* allotment_of(const StatementInput& in,
                                           const format::UnitRange& range) {
  const registry::AllotmentRow* found = nullptr;
  if (in.registered != nullptr) {
    for (const CardOfSet& card : in.registered->cards) {
      if (card.row.card == range.card && range.last <= card.row.units) {
        found = found == nullptr && card.row.jobs_on_card == 1 ? &card.row : nullptr;
      }
    }
  }
  return found;
}

// False: it can't be told.
bool put_labels(Fields& row, const StatementInput& in, const format::UnitRange& range) {
  const registry::AllotmentRow* allotment = allotment_of(in, range);
  if (allotment == nullptr) {
    row.show("NOT_LABELLED");
    return false;
  }
  Fields& out = row.add("LABELLED");
  out.set("STATION", allotment->station);
  out.set("FIRST_UNIT", trace::label_of(in.packages, *allotment, range.first - 1));
  if (range.first != range.last) {
    out.add("MANY").set("LAST_UNIT", trace::label_of(in.packages, *allotment, range.last - 1));
  }
  return true;
}

} // namespace

std::string statement_page(const format::Concession& c, const StatementInput& in) {
  Fields page;
  put_signed(page, c, in, false);
  page.set("CONCESSION", c.number.view());
  std::uint64_t units = 0;
  std::size_t index = 0;
  bool all_told = true;
  for (const format::UnitRange& range : c.units.view()) {
    Fields& row = page.add("CONCEDED_RANGE");
    row.set("AT", index++);
    row.set("CARD", crypto::hex(range.card));
    row.set("FIRST", range.first);
    row.set("LAST", range.last);
    row.set("COUNT", std::uint64_t{range.last} - range.first + 1);
    all_told = put_labels(row, in, range) && all_told;
    units += std::uint64_t{range.last} - range.first + 1;
  }
  page.set("CONCEDED", units);
  page.show_if(!all_told, "LABELS_MISSING");
  return render("concession.html", page);
}

} // namespace cardseal::page
