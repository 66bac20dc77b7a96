#include "command_line_lot.h"

#include "commands_lot.h"

namespace cardseal::tool {
namespace {

struct LotOptions {
  LotNewOptions fresh;
  LotCheckOptions check;
  LotCardsOptions cards;
  LotListOptions list;
  LotShowOptions show;
  LotMergeOptions merge;
  LotSettleOptions settle;
  LotFirstArticleOptions first;
  LotConcedeOptions concede;
  LotCloseOptions close;
};

void add_register(CLI::App* app, std::string& registered) {
  app->add_option("--register", registered, "the desk's register")->required();
}

void add_work_order(CLI::App* app, std::string& work_order) {
  app->add_option("WORK-ORDER", work_order, "the lot, by its work order")->required();
}

void add_ordering(const AddCommand& add, LotOptions& all) {
  LotNewOptions& fresh = all.fresh;
  CLI::App* app = add(
      "new", "Starts a lot order: order.xml to fill in.", "cardseal lot new order.xml",
      [&fresh] { return run_lot_new(fresh); }, nullptr);
  app->add_option("FILE", fresh.file, "the file to make")->required();

  LotCheckOptions& check = all.check;
  app = add(
      "check", "Holds an order against its package, and against what was made for it.",
      "cardseal lot check order.xml --package frost-node.crp --register desk.register",
      [&check] { return run_lot_check(check); }, &check.json);
  app->add_option("ORDER", check.order, "order.xml")->required();
  app->add_option("--package", check.package, "the release package")->required();
  app->add_option("--device", check.device,
                  "the device's profile, where the order names revisions of the silicon");
  app->add_option("--register", check.registered, "the desk's register");
  add_json(app, check.json);

  LotCardsOptions& cards = all.cards;
  app = add(
      "cards", "Enters an order in the register and makes those of its cards that are due.",
      "cardseal lot cards order.xml --package frost-node.crp --root owner.root --trust owner.trust "
      "--key desk.pem --register desk.register -o card.img",
      [&cards] { return run_lot_cards(cards); }, nullptr);
  app->add_option("ORDER", cards.order, "order.xml")->required();
  app->add_option("--package", cards.package, "the release package")->required();
  app->add_option("--root", cards.root, "the owner's root")->required();
  app->add_option("--trust", cards.trust, "the trust list in force")->required();
  add_key(app, cards.key, "the desk's private key, role allot");
  add_register(app, cards.registered);
  app->add_option("--device", cards.device,
                  "the device's profile, where the order names revisions of the silicon");
  app->add_option("--withdrawal", cards.withdrawals,
                  "a withdrawal to take along, with its signature beside it; up to eight");
  app->add_option("-o,--output", cards.output,
                  "the card image; where the order has several, card.img names card-01.img and so "
                  "on, by their order in it")
      ->required();
  app->add_option("--sheet", cards.sheet, "write the set-up sheet to this file, named alike");
  app->add_flag("--force", cards.force, "replace existing outputs");
  app->add_flag("--dry-run", cards.dry_run, "everything but writing and giving numbers");
}

void add_looking(const AddCommand& add, LotOptions& all) {
  LotListOptions& list = all.list;
  CLI::App* app = add(
      "list", "The lots of a register, a line each.", "cardseal lot list --register desk.register",
      [&list] { return run_lot_list(list); }, &list.json);
  add_register(app, list.registered);
  add_json(app, list.json);

  LotShowOptions& show = all.show;
  app = add(
      "show", "Where a lot stands: cards, units, what is signed, and what is open.",
      "cardseal lot show WO-1001 --register desk.register --package frost-node.crp",
      [&show] { return run_lot_show(show); }, &show.json);
  add_work_order(app, show.work_order);
  add_register(app, show.registered);
  app->add_option("--package", show.packages, "release packages: units as their labels read");
  add_json(app, show.json);
}

void add_settling(const AddCommand& add, LotOptions& all) {
  LotSettleOptions& o = all.settle;
  CLI::App* app = add(
      "settle", "Notes what became of units that failed or are in doubt; what was noted stays.",
      "cardseal lot settle WO-1001 --serial FN000012 --package frost-node.crp --register "
      "desk.register --as scrapped --by 'Sanna Reed' --note 'cut up, box 4'",
      [&o] { return run_lot_settle(o); }, nullptr);
  add_work_order(app, o.work_order);
  add_register(app, o.registered);
  CLI::Option* card = app->add_option("--card", o.card, "a card's id: all open units of it, or");
  app->add_option("--units", o.units, "those at these places on it, like 3,7-9")->needs(card);
  app->add_option("--serial", o.serials,
                  "a unit, as its label reads; more than once: all of these");
  app->add_option("--package", o.packages, "release packages, which read labels");
  app->add_option("--as", o.what,
                  "scrapped, no-board (the number was spent, and no board carries it) or reworked "
                  "(the board has another number)")
      ->required();
  app->add_option("--now", o.now,
                  "with --as reworked: that number, as its label reads, of a good unit in a rework "
                  "lot that comes from this one; once for each unit, in their order");
  app->add_option("--by", o.by, "who says so")->required();
  app->add_option("--note", o.note, "how it is known")->required();
  app->add_flag("--dry-run", o.dry_run, "only say what would be noted");
}

void add_merging(const AddCommand& add, LotOptions& all) {
  LotMergeOptions& o = all.merge;
  CLI::App* app = add(
      "merge",
      "Counts and closes a lot with another one of the same class and package; no card is made for "
      "it afterwards, and what it lacks the other one may make.",
      "cardseal lot merge WO-1001 --into WO-1002 --register desk.register --by 'Sanna Reed' "
      "--note 'one delivery'",
      [&o] { return run_lot_merge(o); }, nullptr);
  add_work_order(app, o.work_order);
  app->add_option("--into", o.whole, "the lot that goes on, by its work order")->required();
  add_register(app, o.registered);
  app->add_option("--by", o.by, "who says so")->required();
  app->add_option("--note", o.note, "why")->required();
  app->add_flag("--dry-run", o.dry_run, "only say whether they can be merged");
}

// Options of everything that quality signs about a lot.
void add_statement(CLI::App* app, StatementOptions& o, bool required) {
  add_register(app, o.registered);
  CLI::Option* root = app->add_option("--root", o.root, "the owner's root");
  CLI::Option* trust = app->add_option("--trust", o.trust, "the trust list in force");
  add_key_or_elsewhere(app, o.key, o.elsewhere, "the key to sign with, role quality");
  CLI::Option* reason = app->add_option("--reason", o.reason, "what was looked at, up to 96 bytes");
  app->add_option("--time", o.time, "claimed time; else the clock");
  app->add_option("--confirm", o.confirm, "what is signed, instead of typing it");
  CLI::Option* output = app->add_option("-o,--output", o.output, "the signed text");
  for (CLI::Option* option : {root, trust, reason, output}) {
    option->required(required);
  }
}

void add_signing(const AddCommand& add, LotOptions& all) {
  LotFirstArticleOptions& first = all.first;
  CLI::App* app = add(
      "first-article",
      "Compares a board's memory, read back, with what was to be in it; quality signs it when "
      "every "
      "difference is explained.",
      "cardseal lot first-article WO-1001 --package frost-node.crp --device profiles/px24.xml "
      "--readback board1.hex --serial FN000001 --register desk.register --root owner.root --trust "
      "owner.trust --key omar.pem --reason 'board 1 of bench 2' -o WO-1001.first",
      [&first] { return run_lot_first_article(first); }, nullptr);
  add_work_order(app, first.work_order);
  app->add_option("--package", first.package, "the release package")->required();
  app->add_option("--device", first.device,
                  "the device's profile: kept locations, configuration, erased memory")
      ->required();
  app->add_option("--readback", first.read_back, "the file with the board's memory")->required();
  app->add_option("--serial", first.serial, "the board, as its label reads; or");
  CLI::Option* card = app->add_option("--card", first.card, "the card it was made with, and");
  app->add_option("--unit", first.unit, "its place on that card, 1 the first")->needs(card);
  add_statement(app, first.statement, true);

  LotConcedeOptions& concede = all.concede;
  app = add(
      "concede", "Lets finished units ship although their log does not say good; quality signs it.",
      "cardseal lot concede WO-1001 --number CN-19 --units 00112233445566aa:17-18 --register "
      "desk.register --root owner.root --trust owner.trust --key omar.pem --reason 'read back by "
      "hand and equal' -o CN-19.concession",
      [&concede] { return run_lot_concede(concede); }, nullptr);
  add_work_order(app, concede.work_order);
  app->add_option("--number", concede.number, "the concession's, in the company's own count")
      ->required();
  app->add_option("--units", concede.units, "CARD:3,7-9, places on a card; more than once: all");
  app->add_option("--serial", concede.serials,
                  "a unit, as its label reads; more than once: all of these");
  app->add_option("--package", concede.packages, "release packages, which read labels");
  add_statement(app, concede.statement, true);

  LotCloseOptions& close = all.close;
  app = add(
      "close",
      "Closes a lot in which every unit is accounted for; quality signs it, and no card is made "
      "for "
      "it afterwards.",
      "cardseal lot close WO-1001 --package frost-node.crp --register desk.register --root "
      "owner.root --trust owner.trust --key omar.pem --reason 'counted with the floor' -o "
      "WO-1001.close",
      [&close] { return run_lot_close(close); }, nullptr);
  add_work_order(app, close.work_order);
  app->add_option("--package", close.packages, "every package that its cards were made from")
      ->required();
  app->add_option(
      "--labels", close.labels,
      "PRINTED:APPLIED:SCRAPPED, counted by hand: of the cards whose labels were not scanned "
      "(cardseal label)");
  app->add_flag("--dry-run", close.dry_run, "only say whether it can be closed");
  add_statement(app, close.statement, false);
}

} // namespace

void add_lot_commands(const AddCommand& add) {
  static LotOptions all; // the chosen command points into it
  add_ordering(add, all);
  add_looking(add, all);
  add_merging(add, all);
  add_settling(add, all);
  add_signing(add, all);
}

} // namespace cardseal::tool
