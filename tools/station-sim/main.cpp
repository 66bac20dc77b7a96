#include <cstdio>
#include <exception>

#include <fmt/format.h>

#include "../cli/cli.h"
#include "diag/exit.h"
#include "run.h"

namespace {

using namespace cardseal;
using namespace cardseal::station_sim;

constexpr const char* description =
    "Example: station-sim card.img --state station.state --scenario day.txt\n\n"
    "Works through a card with simulated boards, as the station would whose memory is in the state "
    "file, with the station's own code: takes units, writes the run log into the card image. The "
    "state file is that of station-check --enrol; beside it, in STATE.note, is what the station "
    "remembers of the last record. A scenario is a text of events, one a line:\n"
    "tries 2; seed 7; log-records 24; slot 4 loose-contact 40; cycle 2 slot 1 no-board; cycle 2 "
    "slot 3 "
    "verify-error "
    "0x0120; cycle 2 slot 3 wrong-device (or over-current, locked); cycle 3 power-cut 5; cycle 4 "
    "card-pulled 2.\n\n"
    "Exit: 0 the run is over, 1 the card was refused or the log is full, 64 and above as in the "
    "manual.";

struct Options {
  std::string card;
  std::string state;
  std::string scenario;
  std::uint32_t cycles = 0;
  std::uint16_t job = 1;
  std::string date, shift, fixture, reel, panel;
  std::vector<std::string> dumps; // ORDINAL:FILE
};

int report(const Error& error) {
  (void)std::fprintf(stderr, "station-sim: %s\n", describe(error).c_str());
  return exit_code(error.kind);
}

Error usage(std::string what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "sim-option";
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

void add_options(CLI::App& app, Options& o) {
  app.add_option("CARD", o.card, "card image; its run log is written")->required();
  app.add_option("--state", o.state, "the station's memory")->required();
  app.add_option("--scenario", o.scenario, "what goes wrong; else nothing does");
  app.add_option("--cycles", o.cycles, "how many; else until every unit is used")
      ->check(CLI::Range(1U, 9'999'999U));
  app.add_option("--job", o.job, "of a card with several jobs for the station: which one, from 1")
      ->check(CLI::Range(1, 8));
  app.add_option("--date", o.date, "what the operator enters, for the run log");
  app.add_option("--shift", o.shift, "the same");
  app.add_option("--fixture", o.fixture, "the same");
  app.add_option("--reel", o.reel, "the same");
  app.add_option("--panel", o.panel, "the same");
  app.add_option("--dump", o.dumps, "ORDINAL:FILE, the memory of that unit's board as Intel HEX")
      ->allow_extra_args(false);
}

Try<format::LogWord> word_of(const std::string& text) {
  format::LogWord word;
  format::LogRecord probe; // a record with it must be in form
  probe.station.set("S");
  probe.outcome.set(format::log_good);
  std::array<std::uint8_t, format::log_sector> sector{};
  const bool fits = word.set(text);
  probe.reel = word;
  if (!fits || !format::render_log_record(probe, sector)) {
    return Unexpected(usage("this can't stand in a run log", text,
                            "up to 24 of A-Z 0-9 . : -, the first a letter or digit"));
  }
  return word;
}

Try<Dump> dump_of(const std::string& text) {
  const std::size_t colon = text.find(':');
  Dump dump;
  if (colon == std::string::npos || !parse_uint(text.substr(0, colon), dump.ordinal)) {
    return Unexpected(usage("a dump has another form", text, "ORDINAL:FILE"));
  }
  dump.file = text.substr(colon + 1);
  return dump;
}

Try<RunOptions> run_options(const Options& o) {
  RunOptions out;
  out.cycles = o.cycles;
  out.job = o.job;
  const std::pair<const std::string*, format::LogWord*> words[] = {
      {&o.date, &out.entered.date},
      {&o.shift, &out.entered.shift},
      {&o.fixture, &out.entered.fixture},
      {&o.reel, &out.entered.reel},
      {&o.panel, &out.entered.panel}};
  for (const auto& [text, to] : words) {
    auto word = word_of(*text);
    if (!word) {
      return Unexpected(word.error());
    }
    *to = *word;
  }
  for (const std::string& text : o.dumps) {
    auto dump = dump_of(text);
    if (!dump) {
      return Unexpected(dump.error());
    }
    out.dumps.push_back(*dump);
  }
  return out;
}

Try<RunReport> simulate(const Options& o, const RunOptions& options) {
  io::System& system = io::real_system();
  Scenario scenario;
  if (!o.scenario.empty()) {
    auto read = read_scenario(system, o.scenario);
    if (!read) {
      return Unexpected(read.error());
    }
    scenario = *read;
  }
  auto state = station_check::StateFile::open(system, o.state);
  if (!state) {
    return Unexpected(std::move(state).error());
  }
  auto card = io::Device::open(system, o.card);
  if (!card) {
    return Unexpected(std::move(card).error());
  }
  auto notes = open_or_make(system, o.state + ".note", 2 * note_stride);
  if (!notes) {
    return Unexpected(std::move(notes).error());
  }
  Hardware hardware(std::move(*card), std::move(*notes), std::move(*state));
  return Run(hardware, scenario, options).work();
}

std::string refusal(const Outcome& outcome) {
  const FaultText& text = fault_text(outcome.fault);
  return fmt::format("{} {}: {} ({})", static_cast<unsigned>(outcome.fault), text.display,
                     text.sentence, text.advice);
}

int say(const RunReport& report, const Options& o, const RunOptions& options) {
  if (!report.admitted.ok()) {
    std::printf("%s  refused, %s\n", escaped(o.card).c_str(), refusal(report.admitted).c_str());
    return exit_no;
  }
  std::printf("%s  %u cycles, %u of them interrupted, %u units left\n", escaped(o.card).c_str(),
              report.cycles, report.interrupted, report.units_left);
  for (const auto& [word, count] : report.outcomes) {
    std::printf("  %-14s %u tries\n", word.c_str(), count);
  }
  for (const Dump& dump : options.dumps) {
    if (report.dumps.count(dump.ordinal) == 0) {
      std::printf("  no good board got ordinal %llu: no dump\n",
                  static_cast<unsigned long long>(dump.ordinal));
    }
  }
  if (!report.stopped.ok()) {
    std::printf("  stopped, %s\n", refusal(report.stopped).c_str());
    return exit_no;
  }
  return exit_done;
}

int run(int argc, char** argv) {
  CLI::App app(description, "station-sim");
  Options o;
  add_options(app, o);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? exit_done : exit_code(ErrorKind::usage);
  }
  const auto options = run_options(o);
  if (!options) {
    return report(options.error());
  }
  const auto done_run = simulate(o, *options);
  if (!done_run) {
    return report(done_run.error());
  }
  for (const Dump& dump : options->dumps) {
    const auto at = done_run->dumps.find(dump.ordinal);
    if (at != done_run->dumps.end()) {
      const auto written =
          io::write_file(io::real_system(), dump.file, at->second, io::IfExists::refuse);
      if (!written) {
        return report(written.error());
      }
    }
  }
  return say(*done_run, o, *options);
}

} // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    (void)std::fprintf(stderr, "station-sim: our fault: %s\n", error.what());
    return cardseal::exit_code(cardseal::ErrorKind::internal);
  }
}
