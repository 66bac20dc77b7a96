// Two work orders become one lot.
#include "commands_lot.h"
#include "common.h"

#include <fmt/format.h>

#include "lot/account.h"

namespace cardseal::tool {

Ran run_lot_merge(const LotMergeOptions& options) {
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY_VOID(numbers.merge({options.work_order, options.whole, options.by, options.note, ""},
                         options.dry_run));
  TRY(account, lot::account_of(numbers, options.work_order));
  say(fmt::format("merged      {} into {}; units on cards: {}, boards ordered: {}",
                  escaped(options.work_order), escaped(options.whole), account.issued,
                  account.ordered));
  note(options.dry_run ? "dry run: nothing was noted"
                       : "both are counted and closed as one from now on; there is no way back");
  return 0;
}

} // namespace cardseal::tool
