#include "commands_register.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "register/register.h"
#include "view/register_json.h"

namespace cardseal::tool {
namespace {

using registry::Register;

Try<Register> open(const std::string& file) {
  return Register::open(file, std::nullopt);
}

std::string span(const registry::Range& range) {
  return range.count == 0 ? std::string("none")
                          : fmt::format("{} to {}", range.first, range.past() - 1);
}

std::vector<format::Window> windows_of(const format::TrustList& list,
                                       const std::vector<format::Key>& keys) {
  std::vector<format::Window> windows;
  for (const format::Window& window : list.windows.view()) {
    if (std::find(keys.begin(), keys.end(), window.key) != keys.end()) {
      windows.push_back(window);
    }
  }
  return windows;
}

Try<std::vector<format::Key>> keys_of_desk(Register& numbers, const std::string& desk) {
  if (!desk.empty()) {
    TRY(key, crypto::read_public_key_file(io::real_system(), desk));
    return std::vector<format::Key>{key};
  }
  TRY(windows, numbers.windows());
  std::vector<format::Key> keys;
  for (const registry::WindowRow& window : windows) {
    keys.push_back(window.key);
  }
  return keys;
}

void print_allotment(const registry::AllotmentRow& row) {
  say(fmt::format("  {:>6}  {:<8} {:<16} {:>4}/{:<6} {:<20} {:>7} units  {}{}  card {}", row.id,
                  registry::state_words[static_cast<std::size_t>(row.state)], row.station,
                  row.enrolment, row.serial, span(row.range), row.units, row.work_order,
                  row.spare ? " (spare)" : "", crypto::hex(row.card)));
  if (row.begun != 0) {
    say(fmt::format("          results: {} begun, {} good", row.begun, row.good));
  }
}

Try<void> print_register(Register& numbers) {
  TRY(windows, numbers.windows());
  for (const registry::WindowRow& window : windows) {
    say(fmt::format("window    {}  {} to {}  next {}, {} left", window.scheme, window.first,
                    window.last, window.next, window.last + 1 - window.next));
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
  say("allotments: number, state, station, enrolment/serial, ordinals");
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
  TRY(made, Register::create(io::real_system(), options.file, root.owner));
  (void)made;
  say(fmt::format("register  {}  empty", options.file));
  note("keep it where this desk alone writes; a copy must never be used beside it");
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
  TRY(scheme, to_id(options.scheme, "the scheme"));
  TRY(key, crypto::read_public_key_file(io::real_system(), options.desk));
  TRY(numbers, Register::open(options.file, owner.root.owner));
  registry::HandRequest request;
  request.scheme = scheme;
  request.permitted = windows_of(owner.trust.list, {key});
  request.count = options.count;
  request.note = options.note;
  TRY(range, numbers.take_by_hand(request));
  if (options.json) {
    say(view::json_of(range, options.scheme));
    return 0;
  }
  say(fmt::format("numbers   {}  ordinals {}", options.scheme, span(range)));
  note("they are given out now, used or not");
  return 0;
}

Ran run_serial_abandon(const SerialAbandonOptions& options) {
  TRY(scheme, to_id(options.scheme, "the scheme"));
  TRY(numbers, open(options.file));
  TRY(given_up, numbers.abandon(scheme, options.before, options.note));
  say(fmt::format("given up  {} numbers of {} below {}", given_up, options.scheme, options.before));
  return 0;
}

Ran run_serial_meet(const SerialMeetOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(numbers, Register::open(options.file, owner.root.owner));
  TRY(keys, keys_of_desk(numbers, options.desk));
  const std::vector<format::Window> windows = windows_of(owner.trust.list, keys);
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
