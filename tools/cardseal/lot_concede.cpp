// Finished units that quality lets ship although their log does not say good.
#include "given.h"
#include "lot_statement.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "lot_units.h"
#include "seal/statement.h"

namespace cardseal::tool {
namespace {

struct Units { // of one allotment
  const lot::CardAccount* card = nullptr;
  registry::Range range;
};

Try<std::vector<Units>> chosen_units(const LotConcedeOptions& options,
                                     const lot::Account& account) {
  std::vector<Units> out;
  for (const std::string& text : options.units) {
    const std::vector<std::string> parts = split(text, ':');
    if (parts.size() != 2) {
      return Unexpected(usage_error("the units are not in their form", text, "CARD:3,7-9"));
    }
    TRY(card, card_of(account, parts[0]));
    TRY(ranges, to_places(parts[1]));
    for (const registry::Range& range : ranges) {
      out.push_back({card, range});
    }
  }
  TRY(packages, read_whole_packages(options.packages));
  for (const std::string& serial : options.serials) {
    TRY(unit, unit_of_label(account, packages, serial));
    out.push_back({unit.card, {unit.place, 1}});
  }
  if (out.empty()) {
    return Unexpected(usage_error("a concession is for units", "none",
                                  "--units CARD:PLACES, or --serial with --package"));
  }
  std::sort(out.begin(), out.end(), [](const Units& one, const Units& other) {
    return std::pair(one.card->row.id, one.range.first) <
           std::pair(other.card->row.id, other.range.first);
  });
  return out;
}

// Labels that follow one another are one range; what is named twice the register refuses.
std::vector<Units> joined(const std::vector<Units>& units) {
  std::vector<Units> out;
  for (const Units& each : units) {
    if (!out.empty() && out.back().card == each.card &&
        out.back().range.past() == each.range.first) {
      out.back().range.count += each.range.count;
    } else {
      out.push_back(each);
    }
  }
  return out;
}

// In the text units are counted over all packages of a card, in their order on it.
Try<void> add_units(const LotConcedeOptions& options, const Units& units, format::Concession& out,
                    std::vector<registry::Settlement>& settled) {
  const registry::AllotmentRow& row = units.card->row;
  const std::uint64_t before = row.units_before;
  const format::UnitRange range{row.card,
                                static_cast<std::uint32_t>(before + units.range.first + 1),
                                static_cast<std::uint32_t>(before + units.range.past())};
  if (!out.units.add(range)) {
    return Unexpected(usage_error("one concession names no more ranges", options.number,
                                  fmt::format("at most {}", out.units.capacity())));
  }
  settled.push_back({row.id, units.range, registry::Settled::conceded, "",
                     fmt::format("concession {}", options.number), ""});
  return {};
}

std::vector<format::Id> products_of(const lot::Account& account) {
  std::vector<format::Id> products;
  for (const lot::CardAccount& card : account.cards) {
    format::Id product;
    if (product.set(card.row.product) &&
        std::find(products.begin(), products.end(), product) == products.end()) {
      products.push_back(product);
    }
  }
  return products;
}

void sort_units(format::Concession& text) {
  auto units = text.units.view();
  std::sort(units.begin(), units.end(), [](const auto& one, const auto& other) {
    return std::tie(one.card, one.first) < std::tie(other.card, other.first);
  });
}

} // namespace

Ran run_lot_concede(const LotConcedeOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.statement.root));
  TRY(numbers,
      registry::Register::open(io::real_system(), options.statement.registered, root.owner));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(signer, open_signer(options.statement, products_of(account)));
  format::Concession text;
  TRY(number, to_text<24>(options.number, "the concession's number"));
  TRY(work_order, to_text<24>(options.work_order, "the work order"));
  text.owner = signer.owner.root.owner;
  text.number = number;
  text.work_order = work_order;
  text.person = signer.person;
  text.reason = signer.reason;
  text.time = signer.time;
  std::vector<registry::Settlement> settled;
  TRY(chosen, chosen_units(options, account));
  for (const Units& units : joined(chosen)) {
    TRY_VOID(add_units(options, units, text, settled));
  }
  for (registry::Settlement& each : settled) {
    each.by = signer.person.view();
  }
  sort_units(text);
  TRY(spelled, seal::spell(text));
  say(fmt::format("concession  {} for lot {}", escaped(options.number),
                  escaped(options.work_order)));
  for (const format::UnitRange& range : text.units.view()) {
    say(fmt::format("  units     {} to {} of card {}", range.first, range.last,
                    crypto::hex(range.card)));
  }
  say(fmt::format("reason      {}", escaped(options.statement.reason)));
  Draft draft{format::Concession::kind,
              registry::StatementKind::concession,
              "concession",
              options.work_order,
              fmt::format("concession {}", options.number),
              std::move(spelled),
              std::move(settled),
              {}};
  return sign_statement(numbers, options.statement, signer, draft);
}

} // namespace cardseal::tool
