#include "lot_units.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "label.h"
#include "trace/trace.h"

namespace cardseal::tool {
namespace {

std::string label_of(const registry::AllotmentRow& row, std::uint64_t place,
                     const std::vector<package::Package>& packages) {
  for (const package::Package& package : packages) {
    if (row.scheme && package.manifest_digest == row.manifest) {
      const trace::Unit unit = trace::unit_of(package, row, row.ordinal_of(place));
      return unit.text.empty() ? std::to_string(unit.number) : unit.text;
    }
  }
  return "";
}

Error not_in_lot(const char* code, std::string what, const std::string& found) {
  return error_of(ErrorKind::config, code, std::move(what), found, "one of this lot",
                  "cardseal lot show");
}

// A board that came back is the unit of the card that had it last.
bool tells_later(const lot::CardAccount& one, const lot::CardAccount& other) {
  const bool is_sealed = one.row.state != registry::State::spent;
  const bool other_is = other.row.state != registry::State::spent;
  return is_sealed != other_is ? is_sealed : one.row.id > other.row.id;
}

} // namespace

std::string units_words(const registry::AllotmentRow& row, const registry::Range& units,
                        const std::vector<package::Package>& packages) {
  const std::string first = label_of(row, units.first, packages);
  const std::string last = label_of(row, units.past() - 1, packages);
  if (units.count == 1) {
    return fmt::format("{}{}", units.first + 1,
                       first.empty() ? "" : fmt::format(" ({})", escaped(first)));
  }
  return fmt::format("{} to {}{}", units.first + 1, units.past(),
                     first.empty() ? ""
                                   : fmt::format(" ({} to {})", escaped(first), escaped(last)));
}

Try<std::vector<registry::Range>> to_places(const std::string& text) {
  std::vector<registry::Range> ranges;
  constexpr std::uint64_t most = 9'999'999;
  for (const std::string& part : split(text, ',')) {
    const std::vector<std::string> ends = split(part, '-');
    if (ends.empty() || ends.size() > 2) {
      return Unexpected(usage_error("the units are not in their form", text, "like 3,7-9"));
    }
    TRY(first, to_uint(ends.front(), "a unit's place on its card", most));
    TRY(last, to_uint(ends.back(), "a unit's place on its card", most));
    if (first == 0 || last < first || (!ranges.empty() && first <= ranges.back().past())) {
      return Unexpected(
          usage_error("the units are not in rising order from 1 on", text, "like 3,7-9"));
    }
    ranges.push_back({first - 1, last - first + 1});
  }
  return ranges;
}

Try<const lot::CardAccount*> card_of(const lot::Account& account, const std::string& id) {
  const lot::CardAccount* found = nullptr;
  for (const lot::CardAccount& card : account.cards) {
    if (crypto::hex(card.row.card) != id) {
      continue;
    }
    if (found != nullptr) {
      return Unexpected(usage_error("this card carries several packages, each with places of its "
                                    "own",
                                    id, "units by their labels", "--serial with --package"));
    }
    found = &card;
  }
  if (found == nullptr) {
    return Unexpected(not_in_lot("card-other", "this lot has no such card", id));
  }
  return found;
}

Try<UnitAt> unit_of_label(const lot::Account& account,
                          const std::vector<package::Package>& packages,
                          const std::string& serial) {
  std::optional<Error> error;
  for (const package::Package& package : packages) {
    Try<std::uint64_t> ordinal = ordinal_of(package, serial);
    if (!ordinal) {
      error = std::move(ordinal).error();
      continue;
    }
    UnitAt found;
    for (const lot::CardAccount& card : account.cards) {
      const std::optional<std::uint64_t> unit = card.row.unit_of(*ordinal);
      const bool is_it = card.row.manifest == package.manifest_digest && unit &&
                         (found.card == nullptr || tells_later(card, *found.card));
      found = is_it ? UnitAt{&card, *unit} : found;
    }
    if (found.card != nullptr) {
      return found;
    }
    error = not_in_lot("unit-other", "no card of this lot has that unit", serial);
  }
  return Unexpected(
      error ? std::move(*error)
            : usage_error("labels are read by a package", "no --package", "--package FILE"));
}

} // namespace cardseal::tool
