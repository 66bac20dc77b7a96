// What became of units that their log leaves open.
#include "commands_lot.h"
#include "common.h"
#include "given.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "label.h"
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
    TRY(unit, unit_of_label(account, packages, serial));
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
  if ((!options.serials.empty() || !options.now.empty()) && options.packages.empty()) {
    return Unexpected(
        usage_error("labels are read by a package", "no --package", "--package FILE"));
  }
  if (!options.now.empty() && options.what != "reworked") {
    return Unexpected(usage_error("only a reworked board gets a new number", options.what,
                                  "--as reworked with --now"));
  }
  return {};
}

// The unit of a new label, in whatever lot: the register judges whether that is one of rework.
Try<registry::UnitAt> unit_now(registry::Register& numbers,
                               const std::vector<package::Package>& packages,
                               const std::string& serial) {
  std::optional<Error> error;
  for (const package::Package& package : packages) {
    Try<std::uint64_t> ordinal = ordinal_of(package, serial);
    if (!ordinal) {
      error = error ? error : std::move(ordinal).error();
      continue;
    }
    TRY(rows, numbers.allotments_with(package.manifest.scheme.value.id.view(), *ordinal));
    if (!rows.empty()) { // the first one gave the number; a later one may have the board again
      const auto last = std::find_if(rows.rbegin(), rows.rend() - 1, [](const auto& row) {
        return row.state != registry::State::spent;
      });
      return registry::UnitAt{last->id, last->unit_of(*ordinal).value_or(0)};
    }
  }
  return Unexpected(error ? std::move(*error)
                          : error_of(ErrorKind::config, "unit-other",
                                     "this register gave that number to no card", serial,
                                     "a new label of a rework lot", "look at the label again"));
}

// New numbers belong to single units, in the order in which those were named.
Try<std::vector<UnitsOf>> one_by_one(const std::vector<UnitsOf>& chosen, std::size_t numbers) {
  std::vector<UnitsOf> out;
  for (const UnitsOf& each : chosen) {
    for (std::uint64_t unit = each.units.first; unit < each.units.past(); ++unit) {
      out.push_back({each.card, {unit, 1}});
    }
  }
  if (out.size() != numbers) {
    return Unexpected(usage_error("each reworked board has one new number",
                                  fmt::format("{} units, {} new numbers", out.size(), numbers),
                                  "as many --now as units, in the same order"));
  }
  return out;
}

Try<std::vector<registry::Settlement>> settlements(const LotSettleOptions& options,
                                                   registry::Register& numbers,
                                                   const std::vector<package::Package>& packages,
                                                   const std::vector<UnitsOf>& chosen,
                                                   registry::Settled what) {
  std::vector<registry::Settlement> all;
  for (std::size_t i = 0; i < chosen.size(); ++i) {
    all.push_back(
        {chosen[i].card->row.id, chosen[i].units, what, options.by, options.note, "", {}});
    if (!options.now.empty()) {
      TRY(now, unit_now(numbers, packages, options.now[i]));
      all.back().now.push_back(now);
    }
  }
  return all;
}

} // namespace

Ran run_lot_settle(const LotSettleOptions& options) {
  TRY_VOID(check_options(options));
  TRY(what, to_word(options.what, std::span(registry::settled_words).first(3),
                    "what became of the units"));
  TRY(packages, read_whole_packages(options.packages));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(chosen, chosen_units(options, account, packages));
  if (!options.now.empty()) {
    TRY(single, one_by_one(chosen, options.now.size()));
    chosen = std::move(single);
  }
  TRY(all, settlements(options, numbers, packages, chosen, static_cast<registry::Settled>(what)));
  if (all.empty()) {
    note("no unit of that card is open; nothing was noted");
    return 0;
  }
  TRY_VOID(numbers.settle(all, options.dry_run)); // all or none
  for (std::size_t i = 0; i < chosen.size(); ++i) {
    say(fmt::format("{:<11} card {}, unit {}{}", options.what,
                    crypto::hex(chosen[i].card->row.card),
                    units_words(chosen[i].card->row, chosen[i].units, packages),
                    options.now.empty() ? "" : fmt::format(", now {}", escaped(options.now[i]))));
  }
  if (options.dry_run) {
    note("dry run: nothing was noted");
  } else if (options.what == "reworked" && options.now.empty()) {
    note("without --now nothing leads from these numbers to those that the boards have now");
  }
  return 0;
}

} // namespace cardseal::tool
