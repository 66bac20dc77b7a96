// Where the lots of a register stand.
#include "commands_lot.h"
#include "common.h"
#include "given.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "lot_units.h"
#include "lot_words.h"
#include "view/lot_json.h"

namespace cardseal::tool {
namespace {

std::string counts_words(const format::UnitCounts& c) {
  std::string out = fmt::format("good {}", c.good);
  const auto more = [&](const char* word, std::uint64_t units) {
    out += units == 0 ? std::string() : fmt::format(", {} {}", word, units);
  };
  more("conceded", c.conceded);
  more("scrapped", c.scrapped);
  more("reworked", c.reworked);
  more("no board", c.no_board);
  more("unused", c.unused);
  more("unknown", c.unknown);
  return out;
}

void say_cards(const lot::Account& account, const std::vector<package::Package>& packages) {
  for (const lot::CardAccount& card : account.cards) {
    say(fmt::format("card        {}  {}{}{}, {} units{}: {}{}", crypto::hex(card.row.card),
                    card.row.station,
                    account.is_own(card) ? "" : fmt::format(", {}", escaped(card.row.work_order)),
                    card.place.empty() ? "" : fmt::format(", place {}", card.place), card.row.units,
                    card.row.spare ? ", a spare" : "",
                    lot::standing_words[static_cast<std::size_t>(card.standing)],
                    card.row.stopped ? ", stopped" : ""));
    say(fmt::format("            {}", counts_words(card.counts)));
    if (card.labels) {
      say(fmt::format("  labels    printed {}, applied {}, scrapped {}{}", card.labels->printed,
                      card.labels->applied, card.labels->scrapped,
                      card.labels->open == 0 ? "" : fmt::format(", open {}", card.labels->open)));
    }
    for (const registry::Range& open : card.open) {
      say(fmt::format("  open      {}", units_words(card.row, open, packages)));
    }
    for (const registry::Settlement& settled : card.settled) {
      say(fmt::format("  {:<9} {}: {}, says {}",
                      registry::settled_words[static_cast<std::size_t>(settled.what)],
                      units_words(card.row, settled.units, packages), escaped(settled.note),
                      escaped(settled.by)));
    }
  }
}

void say_merge(const char* what, const std::string& other, const registry::Merge& merge) {
  say(fmt::format("{:<11} {}: {}, says {}, {} (claimed)", what, escaped(other), escaped(merge.note),
                  escaped(merge.by), merge.time));
}

} // namespace

void say_account(const lot::Account& account, const std::vector<package::Package>& packages) {
  say(fmt::format("lot         {}{}", escaped(account.work_order),
                  account.closed() ? ", closed" : ""));
  if (account.merged) {
    say_merge("merged into", account.merged->whole, *account.merged);
  }
  for (const lot::Part& part : account.parts) {
    say_merge("with", part.merge.work_order, part.merge);
  }
  if (account.order) {
    const registry::OrderRow& order = *account.order;
    say(fmt::format("order       revision {}, class {}, {}{}", order.revision, order.work_class,
                    order.product,
                    order.parent ? fmt::format(", from {}", escaped(*order.parent)) : ""));
  } else {
    say("order       none: its cards were made one by one");
  }
  say(fmt::format("ordered     {} boards{}", account.ordered,
                  account.order ? fmt::format(", and {} spares", account.spares()) : ""));
  say(fmt::format("issued      {} units: {}{}", account.issued, counts_words(account.units),
                  account.open == 0 ? "" : fmt::format(", open {}", account.open)));
  say(fmt::format("can ship    {}", account.shippable()));
  say_cards(account, packages);
  for (const registry::Statement& statement : account.statements) {
    const std::string product = account.cards.empty() ? "" : account.cards.front().row.product;
    say(fmt::format("signed      {}", words_of(statement, nullptr, product).line));
  }
  for (const lot::Point& point : account.points) {
    say(fmt::format("{}   {}", point.blocking ? "OPEN     " : "to know  ", escaped(point.text)));
  }
}

Ran run_lot_list(const LotListOptions& options) {
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(names, lot::work_orders(numbers));
  std::vector<lot::Account> accounts;
  for (const std::string& name : names) {
    TRY(account, lot::account_of(numbers, name));
    accounts.push_back(std::move(account));
  }
  if (options.json) {
    say(view::json_of(accounts));
    return 0;
  }
  for (const lot::Account& account : accounts) {
    say(fmt::format("{:<24}  {:>4} cards  {:>8} units  {:>8} can ship  {}",
                    escaped(account.work_order), account.cards.size(), account.issued,
                    account.shippable(),
                    account.merged       ? "merged into " + escaped(account.merged->whole)
                    : account.closed()   ? "closed"
                    : account.closable() ? "can be closed"
                                         : "open"));
  }
  return 0;
}

Ran run_lot_show(const LotShowOptions& options) {
  TRY(packages, read_whole_packages(options.packages));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  if (options.json) {
    say(view::json_of(account));
    return 0;
  }
  say_account(account, packages);
  return 0;
}

} // namespace cardseal::tool
