// What the subcommands of `lot` are asked for.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "commands.h"

namespace cardseal::tool {

struct LotNewOptions {
  std::string file;
};
Ran run_lot_new(const LotNewOptions& options);

struct LotCheckOptions {
  std::string order;
  std::string package;
  std::string device;     // its profile, where the order names revisions of the silicon
  std::string registered; // empty: the order alone is looked at
  bool json = false;
};
Ran run_lot_check(const LotCheckOptions& options);

struct LotCardsOptions {
  std::string order;
  std::string package;
  std::string registered;
  std::string root;
  std::string trust;
  KeySource key;
  std::string device; // its profile, where the order names revisions of the silicon
  std::vector<std::string> withdrawals;
  std::string output;
  std::string sheet; // empty: none
  bool force = false;
  bool dry_run = false;
};
Ran run_lot_cards(const LotCardsOptions& options);

struct LotListOptions {
  std::string registered;
  bool json = false;
};
Ran run_lot_list(const LotListOptions& options);

struct LotShowOptions {
  std::string work_order;
  std::string registered;
  std::vector<std::string> packages; // for serials as labels read
  bool json = false;
};
Ran run_lot_show(const LotShowOptions& options);

struct LotMergeOptions {
  std::string work_order;
  std::string whole; // the order that goes on
  std::string registered;
  std::string by;
  std::string note;
  bool dry_run = false;
};
Ran run_lot_merge(const LotMergeOptions& options);

struct LotSettleOptions {
  std::string work_order;
  std::string registered;
  std::string card;                 // all open units of it, or `units`; empty: by serials
  std::string units;                // like 3,7-9
  std::vector<std::string> serials; // as labels read; with `packages`
  std::vector<std::string> packages;
  std::vector<std::string> now; // of reworked units: as their new labels read, in the same order
  std::string what;
  std::string by;
  std::string note;
  bool dry_run = false;
};
Ran run_lot_settle(const LotSettleOptions& options);

struct StatementOptions { // who signs, and what is written
  std::string registered;
  std::string root;
  std::string trust;
  KeySource key;
  Elsewhere elsewhere;
  std::string reason;
  std::string time; // claimed; empty: the clock
  std::string confirm;
  std::string output;
};

struct LotFirstArticleOptions {
  std::string work_order;
  std::string package;
  std::string device; // profile
  std::string read_back;
  std::string serial;     // as its label reads; or
  std::string card;       // a card, and
  std::uint64_t unit = 0; // the unit's place on it, 1 the first
  StatementOptions statement;
};
Ran run_lot_first_article(const LotFirstArticleOptions& options);

struct LotConcedeOptions {
  std::string work_order;
  std::string number;               // the company's own
  std::vector<std::string> units;   // CARD:3,7-9; or
  std::vector<std::string> serials; // as labels read, with
  std::vector<std::string> packages;
  StatementOptions statement;
};
Ran run_lot_concede(const LotConcedeOptions& options);

struct LotCloseOptions {
  std::string work_order;
  std::vector<std::string> packages;
  std::string labels; // PRINTED:APPLIED:SCRAPPED; empty: not stated
  bool dry_run = false;
  StatementOptions statement;
};
Ran run_lot_close(const LotCloseOptions& options);

} // namespace cardseal::tool
