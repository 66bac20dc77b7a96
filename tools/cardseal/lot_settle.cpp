// What became of units that their log leaves open.
#include "commands_lot.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "lot_units.h"

namespace cardseal::tool {
namespace {

struct UnitsOf {
  const lot::CardAccount* card = nullptr;
  registry::Range units;
};

Try<std::vector<UnitsOf>> chosen_units(const LotSettleOptions& options, const lot::Account& account,
                                       const std::vector<package::Package>& packages) {
  std::vector<UnitsOf> out;
  for (const std::string& serial : options.serials) {
    TRY(unit, unit_of_label(account, packages.front(), serial));
    for (const UnitsOf& other : out) {
      if (other.card == unit.card && other.units.first == unit.place) {
        return Unexpected(usage_error("a unit is named twice", serial, "each once"));
      }
    }
    out.push_back({unit.card, {unit.place, 1}});
  }
  if (options.card.empty()) {
    return out;
  }
  TRY(card, card_of(account, options.card));
  std::vector<registry::Range> ranges = card->open;
  if (!options.units.empty()) {
    TRY(stated, to_places(options.units));
    ranges = stated;
  }
  for (const registry::Range& range : ranges) {
    out.push_back({card, range});
  }
  return out;
}

Try<void> check_options(const LotSettleOptions& options) {
  if (options.serials.empty() == options.card.empty()) {
    return Unexpected(usage_error("units are named in one of two ways",
                                  options.card.empty() ? "neither" : "both",
                                  "--serial with --package, or --card"));
  }
  if (!options.serials.empty() && options.package.empty()) {
    return Unexpected(
        usage_error("labels are read by a package", "no --package", "--package FILE"));
  }
  return {};
}

} // namespace

Ran run_lot_settle(const LotSettleOptions& options) {
  TRY_VOID(check_options(options));
  TRY(what, to_word(options.what, std::span(registry::settled_words).first(3),
                    "what became of the units"));
  std::vector<package::Package> packages;
  if (!options.package.empty()) {
    TRY(package, package::read(io::real_system(), options.package));
    packages.push_back(std::move(package));
  }
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(chosen, chosen_units(options, account, packages));
  std::vector<registry::Settlement> all;
  for (const UnitsOf& each : chosen) {
    all.push_back({each.card->row.id, each.units, static_cast<registry::Settled>(what), options.by,
                   options.note, ""});
    TRY_VOID(numbers.settle(all.back(), true)); // all can be, before the first one is
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!options.dry_run) {
      TRY_VOID(numbers.settle(all[i]));
    }
    say(fmt::format("{:<11} card {}, unit {}", options.what, crypto::hex(chosen[i].card->row.card),
                    units_words(chosen[i].card->row, chosen[i].units, packages)));
  }
  if (all.empty()) {
    note("no unit of that card is open; nothing was noted");
  } else if (options.dry_run) {
    note("dry run: nothing was noted");
  }
  return 0;
}

} // namespace cardseal::tool
