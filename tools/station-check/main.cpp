#include <cstdio>
#include <exception>

#include "../cli/cli.h"
#include "check.h"
#include "diag/exit.h"
#include "report.h"
#include "view/json.h"

namespace {

using namespace cardseal;
using namespace cardseal::station_check;

constexpr const char* description =
    "Example: station-check card.img --root owner.root --state station.state\n\n"
    "Admits or refuses a card exactly as the station would whose memory is in the state file, with "
    "the station's own code. A newer trust list on the card is kept in the state file, as a "
    "station "
    "keeps it; no unit is taken.\n\n"
    "Make a state file once for a station, with an enrolment number never used before:\n"
    "station-check --enrol bench-1 --model six-slot --slots 6 --supply 1800:5000:100 "
    "--enrolment 1 --root owner.root --state station.state\n\n"
    "Exit: 0 admitted, 1 refused, 64 and above as in the manual.";

struct Options {
  CheckOptions check;
  EnrolOptions enrol;
  bool json = false;
};

int report(const Error& error, bool json) {
  if (json) {
    (void)std::puts(view::json_of(error).c_str());
  }
  (void)std::fprintf(stderr, "station-check: %s\n", describe(error).c_str());
  return exit_code(error.kind);
}

void add_options(CLI::App& app, Options& o) {
  app.add_option("CARD", o.check.card, "card image or device");
  app.add_option("--root", o.check.root, "the owner's root, its signatures beside it")->required();
  app.add_option("--state", o.check.state, "the station's memory")->required();
  app.add_option("--job", o.check.job,
                 "of a card with several jobs for the station: which one, from 1")
      ->check(CLI::Range(1, 8));
  app.add_flag("--json", o.json, "print JSON, schema 1");
  auto* enrol = app.add_option("--enrol", o.enrol.name, "make the state file of this station");
  app.add_option("--model", o.enrol.model, "its model, as releases name it")->needs(enrol);
  app.add_option("--slots", o.enrol.slots, "how many slots it has, 1 to 32")->needs(enrol);
  app.add_option("--supply", o.enrol.supply, "what it can supply, LOW:HIGH:STEP in millivolts")
      ->needs(enrol);
  app.add_flag("--own-supply-ok", o.enrol.own_supply_ok,
               "it can work boards that bring their own supply")
      ->needs(enrol);
  app.add_flag("--no-log", o.enrol.no_log,
               "it writes nothing on a card: it takes cards without a log, and no others")
      ->needs(enrol);
  app.add_option("--enrolment", o.enrol.enrolment, "number of this enrolment, never used before")
      ->needs(enrol);
  for (const char* name : {"--model", "--slots", "--supply", "--enrolment"}) {
    enrol->needs(app.get_option(name));
  }
}

int run_enrol(Options& o) {
  o.enrol.root = o.check.root;
  o.enrol.state = o.check.state;
  const auto made = enrol(io::real_system(), o.enrol);
  if (!made) {
    return report(made.error(), o.json);
  }
  (void)std::fprintf(stderr, "station-check: enrolled %s, enrolment %u, in %s\n",
                     o.enrol.name.c_str(), o.enrol.enrolment, escaped(o.enrol.state).c_str());
  return exit_done;
}

int run_check(const Options& o) {
  const auto verdict = check(io::real_system(), o.check);
  if (!verdict) {
    return report(verdict.error(), o.json);
  }
  const std::string out =
      o.json ? view::json_of(*verdict, o.check.card) + "\n" : text_of(*verdict, o.check.card);
  const bool written = std::fputs(out.c_str(), stdout) >= 0 && std::fflush(stdout) == 0;
  if (!written) {
    (void)std::fputs("station-check: writing to standard output failed\n", stderr);
    return exit_code(ErrorKind::io);
  }
  return verdict->outcome.ok() ? exit_done : exit_no;
}

int run(int argc, char** argv) {
  CLI::App app(description, "station-check");
  Options options;
  add_options(app, options);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? exit_done : exit_code(ErrorKind::usage);
  }
  const bool enrolling = app.count("--enrol") > 0;
  if (enrolling == !options.check.card.empty()) {
    (void)std::fputs(
        "station-check: name either a card to check or a station to --enrol (see --help)\n",
        stderr);
    return exit_code(ErrorKind::usage);
  }
  return enrolling ? run_enrol(options) : run_check(options);
}

} // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    (void)std::fprintf(stderr, "station-check: our fault: %s\n", error.what());
    return cardseal::exit_code(cardseal::ErrorKind::internal);
  }
}
