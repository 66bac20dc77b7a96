#include <algorithm>
#include <cstdio>
#include <exception>
#include <sstream>

#include <fmt/format.h>

#include "../cli/cli.h"
#include "diag/exit.h"
#include "plain.h"
#include "run.h"
#include "xml/document.h"

namespace {

using namespace cardseal;
using namespace cardseal::station_sim;

constexpr const char* description =
    "Example: station-sim card.img --state station.state --scenario day.txt\n\n"
    "Works through a card with simulated boards, as the station would whose memory is in the state "
    "file, with the station's own code: takes units, writes the run log into the card image. The "
    "state file is that of station-check --enrol; beside it, in STATE.note, is what the station "
    "remembers of the last record. A scenario is a text of events, one a line:\n"
    "tries 2; seed 7; log-records 24; log-damaged 14; slot 4 loose-contact 40; slot 2 off; "
    "cycle 2 slot 1 no-board; cycle 2 slot 3 verify-error 0x0120; cycle 2 slot 3 wrong-device (or "
    "wrong-revision, over-current, locked, other-number); cycle 3 power-cut 5; cycle 4 card-pulled "
    "2.\n\n"
    "With --plain it is a station that reads a plain file and checks nothing. The settings of the "
    "set-up sheet are keyed in by options, and it says what two people would write down:\n"
    "station-sim plain.img --plain BENCH/FIRMWARE.HEX --slots 1-6 --boards 20 --counter 400 "
    "--serial 0x7ff0:FN000061\n\n"
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
  std::string device;             // profile
  std::string plain, slots;
  std::vector<std::string> serials;
  PlainSettings by_hand;
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
  app.add_option("CARD", o.card, "card image; its run log is written, where the station writes one")
      ->required();
  auto* state = app.add_option("--state", o.state, "the station's memory");
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
  app.add_option("--dump", o.dumps,
                 "ORDINAL:FILE, the memory of that unit's board as Intel HEX; with "
                 "--plain BOARD:FILE, from 1")
      ->allow_extra_args(false);
  app.add_option("--device", o.device, "device profile: boards have its memory and no other");
  auto* plain = app.add_option("--plain", o.plain,
                               "firmware file on the card, for a station that "
                               "reads plain files")
                    ->excludes(state);
  app.add_option("--slots", o.slots, "slots in use, such as 1-4,6")->needs(plain);
  app.add_option("--boards", o.by_hand.boards, "boards issued")
      ->needs(plain)
      ->check(CLI::Range(1U, 9'999'999U));
  app.add_option("--units", o.by_hand.units, "numbers on the sheet; else as many as boards")
      ->needs(plain)
      ->check(CLI::Range(1U, 9'999'999U));
  app.add_option("--counter", o.by_hand.counter, "of programmed boards, before")->needs(plain);
  app.add_option("--serial", o.serials,
                 "ADDRESS:TEXT, the first board's serial and where it goes; ADDRESS:SIZE:NUMBER as "
                 "bytes, the lowest first")
      ->allow_extra_args(false)
      ->needs(plain);
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

Try<Scenario> scenario_of(const Options& o) {
  return o.scenario.empty() ? Try<Scenario>(Scenario())
                            : read_scenario(io::real_system(), o.scenario);
}

// Nothing: none was named.
Try<std::optional<profile::Device>> device_of(const Options& o) {
  if (o.device.empty()) {
    return std::optional<profile::Device>();
  }
  auto device = xml::read_as(io::real_system(), o.device, profile::read_device);
  if (!device) {
    return Unexpected(device.error().front());
  }
  return std::optional<profile::Device>(std::move(*device));
}

Try<std::uint32_t> slots_of(const std::string& text) {
  std::uint32_t slots = 0;
  std::istringstream in(text);
  for (std::string part; std::getline(in, part, ',');) {
    const std::size_t dash = part.find('-');
    std::uint64_t first = 0;
    std::uint64_t last = 0;
    const bool good = parse_uint(part.substr(0, dash), first) &&
                      parse_uint(dash == std::string::npos ? part : part.substr(dash + 1), last) &&
                      first >= 1 && first <= last && last <= 32;
    if (!good) {
      return Unexpected(usage("these are no slots", text, "such as 1-4,6, up to 32"));
    }
    for (std::uint64_t slot = first; slot <= last; ++slot) {
      slots |= std::uint32_t{1} << (slot - 1);
    }
  }
  return slots;
}

Try<PlainSerial> serial_of(const std::string& text) {
  PlainSerial out;
  const std::size_t colon = text.find(':');
  if (colon == std::string::npos || !parse_address(text.substr(0, colon), out.address)) {
    return Unexpected(
        usage("a serial has another form", text, "ADDRESS:TEXT or ADDRESS:SIZE:NUMBER"));
  }
  out.first = text.substr(colon + 1);
  const std::size_t second = out.first.find(':');
  if (second == std::string::npos) {
    return out;
  }
  std::uint64_t size = 0;
  if (!parse_uint(out.first.substr(0, second), size) || size < 1 || size > 8) {
    return Unexpected(usage("a number has another size", text, "1 to 8 bytes"));
  }
  out.binary = static_cast<std::uint8_t>(size);
  out.first = out.first.substr(second + 1);
  return out;
}

Try<PlainSettings> settings_of(const Options& o) {
  PlainSettings out = o.by_hand;
  out.file = o.plain;
  out.units = out.units == 0 ? out.boards : out.units;
  const auto slots = slots_of(o.slots);
  if (!slots) {
    return Unexpected(slots.error());
  }
  out.slots = *slots;
  if (out.slots == 0 || out.boards == 0) {
    return Unexpected(usage("a plain card needs --slots and --boards", "none", "both, by hand"));
  }
  for (const std::string& text : o.serials) {
    const auto serial = serial_of(text);
    if (!serial) {
      return Unexpected(serial.error());
    }
    out.serials.push_back(*serial);
  }
  return out;
}

Try<RunReport> simulate(const Options& o, const RunOptions& options, const Scenario& scenario) {
  io::System& system = io::real_system();
  auto state = station_check::StateFile::open(system, o.state);
  if (!state) {
    return Unexpected(std::move(state).error());
  }
  const loader::StateStorage storage = state->storage();
  loader::StationMemory memory(storage);
  const bool silent = memory.load().ok() && memory.head().no_log;
  const bool pulled = std::ranges::any_of(scenario.cuts, &Cut::card_only);
  if (silent && (scenario.log_records || scenario.log_damaged || pulled)) {
    return Unexpected(error_of(ErrorKind::usage, "scenario-log",
                               "this station writes nothing on the card",
                               "log-records, log-damaged or card-pulled", "other events", ""));
  }
  auto card = io::Device::open(system, o.card, silent ? io::Open::read : io::Open::device);
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
  if (report.turned_away != 0) {
    std::printf("  turned away    %u boards whose number this card does not name\n",
                report.turned_away);
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

Try<void> write_dumps(const std::vector<Dump>& dumps,
                      const std::map<std::uint64_t, io::Bytes>& made) {
  for (const Dump& dump : dumps) {
    const auto at = made.find(dump.ordinal);
    if (at == made.end()) {
      continue;
    }
    auto written = io::write_file(io::real_system(), dump.file, at->second, io::IfExists::refuse);
    if (!written) {
      return Unexpected(written.error());
    }
  }
  return {};
}

void say(const PlainReport& report, const PlainSettings& settings, const Options& o) {
  std::printf("%s  %u cycles, no signature checked\n", escaped(o.card).c_str(), report.cycles);
  for (const auto& [word, count] : report.outcomes) {
    std::printf("  %-14s %u tries\n", word.c_str(), count);
  }
  std::printf("boards   %u issued, %u good, %zu scrap\n", settings.boards, report.good,
              report.scrap.size());
  std::printf("counter  %llu before, %llu after\n",
              static_cast<unsigned long long>(settings.counter),
              static_cast<unsigned long long>(settings.counter) + report.used);
  for (const std::uint64_t place : report.scrap) {
    const std::string serial =
        settings.serials.empty() ? "" : counted_up(settings.serials.front().first, place);
    std::printf("scrap    board %llu%s%s\n", static_cast<unsigned long long>(place) + 1,
                serial.empty() ? "" : ", ", escaped(serial).c_str());
  }
}

// A dump is of a board by its place, from 1.
int run_plain(const Options& o, const RunOptions& options, const Scenario& scenario) {
  const auto settings = settings_of(o);
  if (!settings) {
    return report(settings.error());
  }
  std::vector<std::uint64_t> places;
  for (const Dump& dump : options.dumps) {
    places.push_back(dump.ordinal - 1);
  }
  auto worked = work_plain(io::real_system(), o.card, *settings, scenario, options.device, places);
  if (!worked) {
    return report(worked.error());
  }
  std::map<std::uint64_t, io::Bytes> by_number;
  for (auto& [place, hex] : worked->dumps) {
    by_number[place + 1] = std::move(hex);
  }
  if (auto written = write_dumps(options.dumps, by_number); !written) {
    return report(written.error());
  }
  say(*worked, *settings, o);
  return exit_done;
}

int run_signed(const Options& o, const RunOptions& options, const Scenario& scenario) {
  if (o.state.empty()) {
    return report(usage("a station needs its memory", "none", "--state, or --plain"));
  }
  const auto worked = simulate(o, options, scenario);
  if (!worked) {
    return report(worked.error());
  }
  if (auto written = write_dumps(options.dumps, worked->dumps); !written) {
    return report(written.error());
  }
  return say(*worked, o, options);
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
  auto options = run_options(o);
  if (!options) {
    return report(options.error());
  }
  const auto scenario = scenario_of(o);
  if (!scenario) {
    return report(scenario.error());
  }
  const auto device = device_of(o);
  if (!device) {
    return report(device.error());
  }
  options->device = *device ? &**device : nullptr;
  return o.plain.empty() ? run_signed(o, *options, *scenario) : run_plain(o, *options, *scenario);
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
