#include "command_line_register.h"

#include "commands_register.h"

namespace cardseal::tool {
namespace {

struct RegisterOptions {
  SerialNewOptions fresh;
  SerialEnrolOptions enrol;
  SerialRangeOptions range;
  SerialAbandonOptions abandon;
  SerialMeetOptions meet;
  SerialListOptions list;
  SerialListOptions check;
  SerialExportOptions history;
};

void add_file(CLI::App* app, std::string& file) {
  app->add_option("REGISTER", file, "the desk's register")->required();
}

void add_desk(CLI::App* app, std::string& root, std::string& trust, std::string& desk) {
  app->add_option("--root", root, "the owner's root")->required();
  app->add_option("--trust", trust, "the trust list in force")->required();
  app->add_option("--desk", desk, "the desk's public key, role allot")->required();
}

void add_setting_up(const AddCommand& add, RegisterOptions& all) {
  SerialNewOptions& fresh = all.fresh;
  CLI::App* app = add(
      "new", "Starts an empty register for a desk of an owner.",
      "cardseal serial new desk.register --root owner.root",
      [&fresh] { return run_serial_new(fresh); }, nullptr);
  app->add_option("REGISTER", fresh.file, "the file to make")->required();
  app->add_option("--root", fresh.root, "the owner's root")->required();

  SerialEnrolOptions& enrol = all.enrol;
  app = add(
      "enrol", "Takes a station into a register, or, when its memory was lost, once more.",
      "cardseal serial enrol desk.register --station orchard-1",
      [&enrol] { return run_serial_enrol(enrol); }, &enrol.json);
  add_file(app, enrol.file);
  app->add_option("--station", enrol.station, "its id")->required();
  app->add_flag("--again", enrol.again, "its memory was lost: what its cards have left is spent");
  app->add_option("--enrolment", enrol.enrolment, "the number it has; else the next")
      ->check(CLI::Range(1U, 999'999U));
  app->add_option("--next-serial", enrol.next_serial,
                  "above every allotment that it got without a register")
      ->check(CLI::Range(std::uint64_t{1}, std::uint64_t{999'999'999}))
      ->capture_default_str();
  add_json(app, enrol.json);
}

void add_giving(const AddCommand& add, RegisterOptions& all) {
  SerialRangeOptions& range = all.range;
  CLI::App* app = add(
      "range", "Takes numbers for use without a card; they never come back.",
      "cardseal serial range desk.register --root owner.root --trust owner.trust --desk desk.pub "
      "--release frost-node.crp --count 10 --note 'repair shop'",
      [&range] { return run_serial_range(range); }, &range.json);
  add_file(app, range.file);
  add_desk(app, range.root, range.trust, range.desk);
  app->add_option("--release", range.release, "release.xml or a package: of whose numbers")
      ->required();
  app->add_option("--count", range.count, "how many")
      ->required()
      ->check(CLI::Range(std::uint64_t{1}, std::uint64_t{9'999'999}));
  app->add_option("--note", range.note, "what for, up to 96 characters")->required();
  add_json(app, range.json);

  SerialAbandonOptions& abandon = all.abandon;
  app = add(
      "abandon", "Gives up every number below one; nobody will ever get them.",
      "cardseal serial abandon desk.register --root owner.root --trust owner.trust --desk desk.pub "
      "--scheme fn-serial --before 5000 --note 'used before'",
      [&abandon] { return run_serial_abandon(abandon); }, nullptr);
  add_file(app, abandon.file);
  add_desk(app, abandon.root, abandon.trust, abandon.desk);
  app->add_option("--scheme", abandon.scheme, "of which numbers")->required();
  app->add_option("--before", abandon.before, "the first ordinal to keep")
      ->required()
      ->check(CLI::Range(std::uint64_t{1}, std::uint64_t{1'000'000'000'000}));
  app->add_option("--note", abandon.note, "why, up to 96 characters")->required();
  app->add_flag("--dry-run", abandon.dry_run, "only say how many");
}

void add_looking(const AddCommand& add, RegisterOptions& all) {
  SerialListOptions& list = all.list;
  CLI::App* app = add(
      "list", "Windows, stations, allotments and ranges of a register.",
      "cardseal serial list desk.register", [&list] { return run_serial_list(list); }, &list.json);
  add_file(app, list.file);
  add_json(app, list.json);

  SerialListOptions& check = all.check;
  app = add(
      "check", "Holds the whole register against itself; exit 1 when anything is wrong.",
      "cardseal serial check desk.register", [&check] { return run_serial_check(check); },
      &check.json);
  add_file(app, check.file);
  add_json(app, check.json);

  SerialExportOptions& history = all.history;
  app = add(
      "export", "Writes the register's whole history as text, each entry with its digest.",
      "cardseal serial export desk.register -o history.txt",
      [&history] { return run_serial_export(history); }, nullptr);
  add_file(app, history.file);
  app->add_option("-o,--output", history.output, "'-' for standard output")->capture_default_str();
  app->add_flag("--force", history.force, "replace an existing output");
}

void add_meeting(const AddCommand& add, RegisterOptions& all) {
  SerialMeetOptions& meet = all.meet;
  CLI::App* app = add(
      "meet",
      "Shows cards to a register; one restored from a backup finds out so, and gives up its "
      "window.",
      "cardseal serial meet desk.register card.img --root owner.root --trust owner.trust --desk "
      "desk.pub",
      [&meet] { return run_serial_meet(meet); }, nullptr);
  add_file(app, meet.file);
  app->add_option("CARD", meet.cards, "card images")->required();
  add_desk(app, meet.root, meet.trust, meet.desk);
}

} // namespace

void add_register_commands(const AddCommand& add) {
  static RegisterOptions all; // the chosen command points into it
  add_setting_up(add, all);
  add_giving(add, all);
  add_looking(add, all);
  add_meeting(add, all);
}

} // namespace cardseal::tool
