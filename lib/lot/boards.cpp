#include "lot/boards.h"

#include <algorithm>

#include <fmt/format.h>

#include "base/number.h"
#include "unit/unit.h"

namespace cardseal::lot {
namespace {

Error wrong(const char* code, const Place& place, std::string what, std::string found,
            std::string expected, std::string hint) {
  Error error =
      refused(code, std::move(what), std::move(found), std::move(expected), std::move(hint));
  error.place = place;
  return error;
}

// A board's text as this lot would write it: its class and date code count.
bool ordinal_in(const format::Manifest& manifest, const format::Allotment& stated,
                const std::string& serial, std::uint64_t& ordinal) {
  if (!manifest.scheme.present) {
    return false;
  }
  const unit::Serials serials = unit::serials_of(manifest, &stated);
  if (manifest.parts.count != 0) {
    return unit::ordinal_of_text(serials, serial, ordinal).ok();
  }
  std::uint64_t number = 0;
  return parse_uint(serial, number) && unit::ordinal_of_number(serials, number, ordinal).ok();
}

format::Allotment stated_by(const Order& order) {
  format::Allotment stated;
  stated.work_class = order.work_class;
  if (!order.date_code.empty()) {
    format::Text<16> text;
    text.set(order.date_code);
    stated.date_code.set(text);
  }
  return stated;
}

std::vector<std::uint64_t> ordinals_of(const Order& order, const OrderCard& card,
                                       const format::Manifest& manifest,
                                       std::vector<Error>& errors) {
  const format::Allotment stated = stated_by(order);
  std::vector<std::uint64_t> ordinals;
  for (const auto& [serial, place] : card.boards) {
    std::uint64_t ordinal = 0;
    if (!ordinal_in(manifest, stated, serial, ordinal)) {
      errors.push_back(wrong("order-board-serial", place,
                             "this lot would write no such serial to a board", serial,
                             "a serial of the package's scheme, with this order's class and date "
                             "code where its text has them",
                             "correct it; a board whose text would change gets a new number"));
    } else if (std::find(ordinals.begin(), ordinals.end(), ordinal) != ordinals.end()) {
      errors.push_back(wrong("order-board-serial", place, "this board stands twice on the card",
                             serial, "each board once", "leave one of them out"));
    } else {
      ordinals.push_back(ordinal);
    }
  }
  std::sort(ordinals.begin(), ordinals.end());
  return ordinals;
}

bool has_number(const format::Manifest& manifest, const format::Placement& placement) {
  for (const format::Part& part : manifest.parts.view()) {
    if (placement.parts.present && part.kind == format::PartKind::number &&
        part.index >= placement.parts.value.first && part.index <= placement.parts.value.last) {
      return true;
    }
  }
  return format::is_binary(placement.encoding);
}

// The station must be able to tell the number.
void check_readable(const OrderCard& card, const format::Manifest& m, std::vector<Error>& errors) {
  const bool kept = card.numbers == format::Numbers::kept;
  const bool readable =
      kept ? m.placements.count != 0 && has_number(m, m.placements.items[0]) : m.parts.count != 0;
  if (card.numbers != format::Numbers::fresh && !readable) {
    errors.push_back(wrong("order-numbers", card.where,
                           kept ? "no board says its number where a station looks for it"
                                : "this release has no text for labels to state",
                           kept ? "kept" : "stated",
                           kept ? "a first placement with the serial's number" : "serial parts",
                           "give the boards new numbers"));
  }
}

void check_form(const Order& order, const OrderCard& card, std::vector<Error>& errors) {
  const bool again = card.numbers != format::Numbers::fresh;
  if (again && order.work_class != format::WorkClass::rework) {
    errors.push_back(wrong("order-numbers", card.where,
                           "only rework meets boards that have numbers", "another class",
                           "class rework", "correct the class, or leave numbers out"));
  }
  if (again ? card.boards.size() != card.units : !card.boards.empty()) {
    errors.push_back(wrong("order-numbers", card.where,
                           "units and the boards named for them differ",
                           fmt::format("{} units, {} boards", card.units, card.boards.size()),
                           again ? "a <board serial=\"...\"/> for each unit"
                                 : "boards with numbers=\"kept\" or "
                                   "\"stated\" only",
                           "name each board that comes back"));
  }
}

} // namespace

Boards boards_of(const Order& order, const OrderCard& card, const format::Manifest& manifest) {
  Boards out;
  check_form(order, card, out.errors);
  check_readable(card, manifest, out.errors);
  for (const std::uint64_t ordinal : ordinals_of(order, card, manifest, out.errors)) {
    const std::uint16_t last = out.spans.count;
    if (last != 0 && out.spans.items[last - 1U].last + 1 == ordinal) {
      out.spans.items[last - 1U].last = ordinal;
    } else if (!out.spans.add({ordinal, ordinal})) {
      out.errors.push_back(
          wrong("order-numbers", card.where, "the boards of this card have too scattered numbers",
                fmt::format("more than {} groups of numbers", out.spans.capacity()),
                fmt::format("at most {}", out.spans.capacity()), "share them among several cards"));
      break;
    }
  }
  return out;
}

} // namespace cardseal::lot
