#include "commands_register.h"
#include "common.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "package/scheme_definition.h"
#include "register/register.h"
#include "serial_source.h"
#include "view/register_json.h"

namespace cardseal::tool {
namespace {

using registry::Register;

Try<Register> open(const std::string& file) {
  return Register::open(io::real_system(), file, std::nullopt);
}

std::string span(const registry::Range& range) {
  return range.count == 0 ? std::string("none")
                          : fmt::format("{} to {}", range.first, range.past() - 1);
}

// Those that the trust list gives to the desk's key, while it may allot.
Try<std::vector<format::Window>> windows_of(const format::TrustList& list, const std::string& desk,
                                            std::optional<format::WindowUse> use = std::nullopt) {
  TRY(key, crypto::read_public_key_file(io::real_system(), desk));
  const auto keys = list.keys.view();
  const bool listed = std::any_of(keys.begin(), keys.end(), [&](const format::TrustedKey& one) {
    return one.key == key && one.role == format::Role::allot;
  });
  if (!listed) {
    Error error;
    error.kind = ErrorKind::config;
    error.code = "key-not-enrolled";
    error.what = "this key is no desk's";
    error.place.file = desk;
    error.found = crypto::hex(key);
    error.expected = "a key of role allot on the trust list";
    error.hint = "name the public key of the desk that this register belongs to";
    return Unexpected(std::move(error));
  }
  return seal::windows_of(list, key, use);
}

// Of boards that come back, each group.
std::string numbers_of(const registry::AllotmentRow& row) {
  if (row.again.empty()) {
    return span(row.range);
  }
  std::string out(format::numbers_words[static_cast<std::size_t>(row.numbers)]);
  for (const registry::Range& range : row.again) {
    out += range.count == 1 ? fmt::format(" {}", range.first)
                            : fmt::format(" {}-{}", range.first, range.past() - 1);
  }
  return out;
}

void print_allotment(const registry::AllotmentRow& row) {
  say(fmt::format(
      "  {:>6}  {:<8} {:<16} {:>4}/{:<6} {:<20} {:>7} units  {}{}  card {}{}{}", row.id,
      registry::state_words[static_cast<std::size_t>(row.state)], row.station, row.enrolment,
      row.serial, numbers_of(row), row.units, row.work_order, row.spare ? " (spare)" : "",
      crypto::hex(row.card),
      row.jobs_on_card > 1 ? fmt::format(", one of {} jobs: {}", row.jobs_on_card, row.product)
                           : "",
      row.fate ? fmt::format("  {}", registry::fate_words[static_cast<std::size_t>(*row.fate)])
               : ""));
  if (row.begun != 0) {
    say(fmt::format("          results: {} begun, {} good", row.begun, row.good));
  }
}

Try<void> print_register(Register& numbers) {
  TRY(windows, numbers.windows());
  for (const registry::WindowRow& window : windows) {
    say(fmt::format("window    {}  {} to {}  next {}, {} left  key {}", window.scheme, window.first,
                    window.last, window.next, window.last + 1 - window.next,
                    crypto::hex(window.key)));
  }
  TRY(stations, numbers.stations());
  for (const registry::Enrolled& station : stations) {
    say(fmt::format("station   {}  enrolment {}, next allotment {}", station.station.view(),
                    station.enrolment, station.next_serial));
  }
  TRY(ranges, numbers.ranges());
  for (const registry::RangeRow& range : ranges) {
    say(fmt::format("{:<9} {}  {}  {}", registry::use_words[static_cast<std::size_t>(range.use)],
                    range.scheme, span(range.range), escaped(range.note)));
  }
  say("allotments: number, state, station, enrolment/allotment of the station, ordinals");
  return numbers.each_allotment(print_allotment);
}

// False when the card shows that something is wrong.
Try<bool> meet_card(Register& numbers, const std::string& file, const Owner& owner,
                    const std::vector<format::Window>& windows) {
  TRY(card, io::ReadFile::open(io::real_system(), file));
  fat32::FileSource source(card);
  TRY(found, card::read_evidence(source, file, owner.root, owner.trust.list));
  bool sound = true;
  for (const registry::Evidence& evidence : found) {
    TRY(met, numbers.meet(evidence, windows));
    say(fmt::format("{}  {}, allotment {}: {}", escaped(file), evidence.allotment.station.view(),
                    evidence.allotment.serial,
                    registry::standing_words[static_cast<std::size_t>(met.standing)]));
    if (met.abandoned != 0) {
      say(fmt::format("  {} numbers were given up", met.abandoned));
    }
    for (const std::string& problem : met.problems) {
      say("  " + problem);
    }
    sound = sound && met.problems.empty() && met.standing != registry::Standing::missing;
  }
  return sound;
}

} // namespace

Ran run_serial_new(const SerialNewOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  if (io::real_system().stat(options.file)) {
    Error error;
    error.kind = ErrorKind::no_create;
    error.code = "output-exists";
    error.what = "there is something of this name already";
    error.place.file = options.file;
    error.hint = "use that register, or name another file: a register is never replaced";
    return Unexpected(std::move(error));
  }
  TRY(made, Register::create(io::real_system(), options.file, root.owner));
  (void)made;
  say(fmt::format("register  {}  empty", options.file));
  note(fmt::format(
      "keep it and {}.head where this desk alone writes: one register a desk's key, and "
      "never a copy beside it",
      options.file));
  return 0;
}

Ran run_serial_enrol(const SerialEnrolOptions& options) {
  TRY(station, to_id(options.station, "the station"));
  TRY(numbers, open(options.file));
  TRY(enrolled, numbers.enrol({station, options.again, options.enrolment, options.next_serial}));
  if (options.json) {
    say(view::json_of(enrolled));
    return 0;
  }
  say(fmt::format("station   {}  enrolment {}, next allotment {}", options.station,
                  enrolled.enrolment, enrolled.next_serial));
  return 0;
}

Ran run_serial_range(const SerialRangeOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(source, read_serial_source({options.release, {}, "production"}, options.json));
  // Numbers given by hand go on boards that ship.
  TRY(windows, windows_of(owner.trust.list, options.desk, format::WindowUse::shipment));
  TRY(numbers, Register::open(io::real_system(), options.file, owner.root.owner));
  const format::Scheme& scheme = source.manifest.scheme.value;
  registry::HandRequest request;
  request.scheme = scheme.id;
  request.capacity = scheme.capacity;
  request.definition = package::scheme_definition(source.manifest);
  request.permitted = windows;
  request.count = options.count;
  request.note = options.note;
  TRY(range, numbers.take_by_hand(request));
  if (options.json) {
    say(view::json_of(range, std::string(scheme.id.view())));
    return 0;
  }
  say(fmt::format("numbers   {}  ordinals {}{}", scheme.id.view(), span(range),
                  texts_of(source.manifest, source.stated, range)));
  note("they are given out now, used or not");
  return 0;
}

Ran run_serial_abandon(const SerialAbandonOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(scheme, to_id(options.scheme, "the scheme"));
  TRY(windows, windows_of(owner.trust.list, options.desk));
  TRY(numbers, Register::open(io::real_system(), options.file, owner.root.owner));
  TRY(given_up, numbers.abandon({scheme, windows, options.before, options.note}, options.dry_run));
  say(fmt::format("given up  {} numbers of {} below {}", given_up, options.scheme, options.before));
  if (options.dry_run) {
    note("dry run: none was given up");
  }
  return 0;
}

Ran run_serial_meet(const SerialMeetOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(numbers, Register::open(io::real_system(), options.file, owner.root.owner));
  TRY(windows, windows_of(owner.trust.list, options.desk));
  bool sound = true;
  for (const std::string& file : options.cards) {
    TRY(good, meet_card(numbers, file, owner, windows));
    sound = sound && good;
  }
  if (!sound) {
    note("this register's history lacks something, or numbers were given twice: have the owner add "
         "a new window, and tell quality");
  }
  return sound ? 0 : 1;
}

Ran run_serial_list(const SerialListOptions& options) {
  TRY(numbers, open(options.file));
  if (options.json) {
    TRY(json, view::json_of_register(numbers));
    say(json);
    return 0;
  }
  TRY_VOID(print_register(numbers));
  return 0;
}

Ran run_serial_check(const SerialListOptions& options) {
  TRY(numbers, open(options.file));
  TRY(problems, numbers.check());
  TRY(head, numbers.head());
  if (options.json) {
    say(view::json_of(head, problems));
    return problems.empty() ? 0 : 1;
  }
  for (const std::string& problem : problems) {
    say("wrong     " + escaped(problem));
  }
  say(fmt::format("{}  {}  {} entries, head {}", problems.empty() ? "good    " : "not good",
                  options.file, head.entries, crypto::spell_digest(head.digest)));
  return problems.empty() ? 0 : 1;
}

Ran run_serial_export(const SerialExportOptions& options) {
  TRY(numbers, open(options.file));
  std::string all;
  TRY_VOID(numbers.each_entry([&](const registry::EntryRow& entry) {
    all += fmt::format("{}digest {}\ntime {}\n\n", entry.body, crypto::spell_digest(entry.digest),
                       entry.time);
  }));
  TRY_VOID(
      io::write_file(io::real_system(), options.output, bytes_of(all), if_exists(options.force)));
  return 0;
}

} // namespace cardseal::tool
