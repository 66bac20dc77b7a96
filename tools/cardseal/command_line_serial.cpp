#include "command_line_serial.h"

#include "commands_serial.h"

namespace cardseal::tool {
namespace {

struct SchemeOptions {
  SerialUnitsOptions units;
  SerialProofOptions proof;
  SerialWeekOptions week;
};

void add_source(CLI::App* app, SerialSourceOptions& source) {
  app->add_option("RELEASE", source.file, "release.xml, or a package")->required();
  app->add_option("--date-code", source.date_code, "what the lot order states");
  app->add_option("--class", source.work_class, "engineering, pilot, production, rework or sample")
      ->capture_default_str();
}

} // namespace

void add_scheme_commands(const AddCommand& add) {
  static SchemeOptions all;
  SerialUnitsOptions& units = all.units;
  CLI::App* app = add(
      "units", "Shows number, text and bytes of units, counted from 0.",
      "cardseal serial units release.xml 0-9 999998", [&units] { return run_serial_units(units); },
      &units.json);
  add_source(app, units.source);
  app->add_option("UNITS", units.units, "ordinals: FIRST-LAST, or one")->required();
  app->add_flag("--json", units.json, "the result as JSON, schema 1");

  SerialProofOptions& proof = all.proof;
  app = add(
      "proof",
      "Shows the units at every edge of a scheme, and whether it can give what another one gives.",
      "cardseal serial proof frost-node.crp --against frost-node-2.3.crp",
      [&proof] { return run_serial_proof(proof); }, &proof.json);
  add_source(app, proof.source);
  app->add_option("--range", proof.range, "ordinals FIRST-LAST; else all");
  app->add_option("--against", proof.against, "another release.xml or package, or the same one");
  app->add_option("--against-range", proof.against_range, "its ordinals FIRST-LAST; else all");
  app->add_flag("--json", proof.json, "the result as JSON, schema 1");

  SerialWeekOptions& week = all.week;
  app = add(
      "week", "Prints the date code of a day: year and week (ISO 8601) in four digits.",
      "cardseal serial week 2027-01-01", [&week] { return run_serial_week(week); }, nullptr);
  app->add_option("DAY", week.day, "YYYY-MM-DD")->required();
}

} // namespace cardseal::tool
