// Finished units that quality lets ship although their log does not say good.
#include "lot_statement.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "lot_units.h"
#include "seal/statement.h"

namespace cardseal::tool {
namespace {

Try<void> add_units(const LotConcedeOptions& options, const lot::Account& account,
                    const std::string& text, format::Concession& out,
                    std::vector<registry::Settlement>& settled) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 2) {
    return Unexpected(usage_error("the units are not in their form", text, "CARD:3,7-9"));
  }
  TRY(card, card_of(account, parts[0]));
  TRY(ranges, to_places(parts[1]));
  for (const registry::Range& range : ranges) {
    format::UnitRange units{card->row.card, static_cast<std::uint32_t>(range.first + 1),
                            static_cast<std::uint32_t>(range.past())};
    if (!out.units.add(units)) {
      return Unexpected(usage_error("one concession names no more ranges", options.number,
                                    fmt::format("at most {}", out.units.capacity())));
    }
    settled.push_back({card->row.id, range, registry::Settled::conceded, "",
                       fmt::format("concession {}", options.number), ""});
  }
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
  for (const std::string& units : options.units) {
    TRY_VOID(add_units(options, account, units, text, settled));
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
