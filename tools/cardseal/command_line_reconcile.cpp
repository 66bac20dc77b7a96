#include "command_line_reconcile.h"

#include "commands_reconcile.h"

namespace cardseal::tool {
namespace {

void add_tally(CLI::App* app, TallyOptions& tally) {
  CLI::Option* card = app->add_option("--tally", tally.card,
                                      "instead of a log: id of a card whose station writes none, "
                                      "for what two people counted");
  const auto add = [&](CLI::Option* option) {
    option->needs(card);
    return option;
  };
  CLI::Option* issued = add(app->add_option("--issued", tally.issued, "boards given out"));
  CLI::Option* good = add(app->add_option("--good", tally.good, "boards that came back good"));
  CLI::Option* scrap = add(app->add_option("--scrap", tally.scrap, "boards that were scrapped"));
  CLI::Option* counter =
      add(app->add_option("--counter", tally.counter,
                          "the station's counter of boards, or of units taken, BEFORE:AFTER"));
  CLI::Option* initials = add(app->add_option("--initials", tally.initials,
                                              "of the two people who counted, such as AB:CD"));
  add(app->add_option("--scrapped", tally.scrapped,
                      "the scrap, by ordinal, or with --package by serial as the label has "
                      "it; without all of them none is taken as good"))
      ->delimiter(',');
  add(app->add_option("--no-board", tally.no_board,
                      "likewise, units that the station took and no board got"))
      ->delimiter(',');
  app->add_option("--package", tally.package,
                  "the cards' package: tells labels and sign-offs on the page; of a tally the "
                  "ordinal of a serial, and whether any of its stations writes no log");
  for (CLI::Option* needed : {issued, good, scrap, counter, initials}) {
    card->needs(needed);
  }
}

} // namespace

void add_reconcile_command(const AddCommand& add) {
  static ReconcileOptions o; // the chosen command points into it
  CLI::App* app = add(
      "reconcile",
      "What became of the units on cards that came back: good, failed, in doubt, unused; yields, "
      "and slots that differ. The register keeps it.",
      "cardseal reconcile card.img --register desk.register", [] { return run_reconcile(o); },
      &o.json);
  app->add_option(
      "LOG", o.logs,
      "card images, or LOG.CSV copied off a card; copies of one card are laid together");
  app->add_option("--register", o.registered, "the desk's register, which gave the numbers")
      ->required();
  add_tally(app, o.tally);
  app->add_option(
      "-o,--output", o.output,
      "the lot report, of a tally its own page, for screen and paper; '-' is standard output");
  app->add_flag("--force", o.force, "replace an existing page");
  app->add_flag("--dry-run", o.dry_run, "only say it; the register stays as it is");
  add_json(app, o.json);
}

} // namespace cardseal::tool
