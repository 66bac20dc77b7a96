#include "command_line_label.h"

#include "commands_label.h"

namespace cardseal::tool {
namespace {

struct LabelOptions {
  LabelExportOptions out;
  LabelScanOptions scan;
  LabelScrapOptions scrap;
  LabelShowOptions show;
};

void add_lot(CLI::App* app, std::string& work_order, std::string& registered,
             std::string& package) {
  app->add_option("WORK-ORDER", work_order, "the lot, by its work order")->required();
  app->add_option("--register", registered, "the desk's register")->required();
  app->add_option("--package", package, "the release package, which reads labels")->required();
}

void add_export(const AddCommand& add, LabelExportOptions& o) {
  CLI::App* app = add(
      "export",
      "Writes the numbers of a lot for a label printer, by cycle and slot of each card, and notes "
      "them as printed; what is on a board or scrapped is left out.",
      "cardseal label export WO-1001 --register desk.register --package frost-node.crp --by "
      "'Sanna Reed' -o labels.csv",
      [&o] { return run_label_export(o); }, nullptr);
  add_lot(app, o.work_order, o.registered, o.package);
  app->add_option("--card", o.cards, "only of this card, by its id; more than once: of these")
      ->allow_extra_args(false);
  app->add_option("--serial", o.serials,
                  "only this label, which was scrapped, anew; more than once: these")
      ->allow_extra_args(false);
  app->add_option("--by", o.by, "who prints them")->required();
  app->add_option("-o,--output", o.output, "CSV by RFC 4180: cycle, slot, label, card, work order")
      ->required();
  app->add_flag("--force", o.force, "replace an existing output");
}

void add_scan(const AddCommand& add, LabelScanOptions& o) {
  CLI::App* app = add(
      "scan",
      "Holds labels that were scanned when boards were put in against what was exported, or "
      "against "
      "the run log; notes them as applied when every one is where its number is.",
      "cardseal label scan WO-1001 scanned.csv --card 57d10c2f8a7be194 --log card.img --register "
      "desk.register --package frost-node.crp --by 'Floor two'",
      [&o] { return run_label_scan(o); }, &o.json);
  app->add_option("WORK-ORDER", o.work_order, "the lot, by its work order")->required();
  app->add_option("SCAN", o.scan,
                  "CSV by RFC 4180 with the header cycle,slot,label, then a line for each label in "
                  "any order; cycles count from the card's first one")
      ->required();
  app->add_option("--register", o.registered, "the desk's register")->required();
  app->add_option("--package", o.package, "the release package, which reads labels")->required();
  app->add_option("--card", o.card, "the card it is of, by its id, where the lot has several");
  app->add_option("--log", o.logs,
                  "the card that came back, its image or LOG.CSV: cycle and slot of each number as "
                  "they were, not as they were planned")
      ->allow_extra_args(false);
  app->add_option("--by", o.by, "who scanned them")->required();
  app->add_flag("--dry-run", o.dry_run, "only say whether it fits");
  add_json(app, o.json);
}

} // namespace

void add_label_commands(const AddCommand& add) {
  static LabelOptions all; // the chosen command points into it
  add_export(add, all.out);
  add_scan(add, all.scan);
  LabelScrapOptions& scrap = all.scrap;
  CLI::App* app = add(
      "scrap", "Notes that labels were destroyed, also those of boards that will not ship.",
      "cardseal label scrap WO-1001 --serial FN000012 --register desk.register --package "
      "frost-node.crp --by 'Sanna Reed' --note 'torn'",
      [&scrap] { return run_label_scrap(scrap); }, nullptr);
  add_lot(app, scrap.work_order, scrap.registered, scrap.package);
  app->add_option("--serial", scrap.serials, "the label as it reads; more than once: these")
      ->required()
      ->allow_extra_args(false);
  app->add_option("--by", scrap.by, "who says so")->required();
  app->add_option("--note", scrap.note, "why, or where it is")->required();

  LabelShowOptions& show = all.show;
  app = add(
      "show", "Where the labels of a lot are: applied, scrapped, printed, or not exported.",
      "cardseal label show WO-1001 --register desk.register --package frost-node.crp",
      [&show] { return run_label_show(show); }, nullptr);
  add_lot(app, show.work_order, show.registered, show.package);
}

} // namespace cardseal::tool
