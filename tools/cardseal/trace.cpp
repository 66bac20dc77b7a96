#include "commands_trace.h"
#include "common.h"
#include "given.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "card/sheet.h"
#include "crypto/sha256.h"
#include "lot_units.h"
#include "lot_words.h"
#include "trace/trace.h"
#include "view/trace_json.h"
#include "words.h"

namespace cardseal::tool {
namespace {

void pair(std::string_view name, std::string_view value) {
  say(fmt::format("  {:<18}{}", name, escaped(value)));
}

std::string_view result_sentence(trace::Result result) {
  switch (result) {
  case trace::Result::not_reported:
    return "not known: no results of its card came back (cardseal reconcile)";
  case trace::Result::unused:
    return "unused: results of its card came back, and the unit was never begun";
  case trace::Result::begun:
    return "begun, and not known to have ended well: failed, or in doubt";
  case trace::Result::good:
    return "good";
  }
  return "";
}

// How each package stands by root and trust list; empty: nobody looked.
using Judged = std::map<const package::Package*, Outcome>;

// What operators entered stands in capitals, as in the log.
std::string entered_words(const format::LogRecord& record) {
  std::string out;
  const auto add = [&](const char* what, const format::LogWord& word) {
    out += word.view().empty() ? std::string() : fmt::format(", {} {}", what, word.view());
  };
  add("date", record.date);
  add("shift", record.shift);
  add("fixture", record.fixture);
  add("reel", record.reel);
  add("panel", record.panel);
  return out.empty() ? out : out + " (entered)";
}

void print_work(const trace::Found& found) {
  for (const format::LogRecord& record : found.work) {
    const bool begun = record.outcome.view() == format::log_begun;
    pair("at the station",
         fmt::format("session {}, cycle {}, slot {}, try {}: {}{}{}", record.session, record.cycle,
                     record.slot, record.tries, record.outcome.view(),
                     begun ? "" : fmt::format(", {} measured", card::volts(record.supply_mv)),
                     begun ? "" : entered_words(record)));
  }
}

void print_order(const trace::Found& found) {
  if (!found.ordered) {
    return;
  }
  const trace::Ordered& ordered = *found.ordered;
  if (!ordered.place.empty()) {
    pair("ordered as", fmt::format("place {}{}", ordered.place,
                                   ordered.line.empty() ? "" : ", line " + ordered.line));
  }
  for (const lot::Reel& reel : ordered.reels) {
    pair("reel of its order", fmt::format("{} of {}", reel.lot, reel.part));
  }
  for (const lot::SiliconRevision& silicon : ordered.silicon) {
    pair("silicon allowed", silicon.title);
  }
}

void print_lot(const trace::Found& found, const Owner* owner) {
  if (found.settled) {
    const registry::Settlement& settled = *found.settled;
    pair(registry::settled_words[static_cast<std::size_t>(settled.what)],
         fmt::format("{}, says {}, {} (claimed)", settled.note, settled.by, settled.time));
  }
  const auto other = [](const char* what, const trace::OtherNumber& number) {
    pair(what, fmt::format("{} (card {}, place {}, work order {})", number.label,
                           crypto::hex(number.allotment.card), number.place + 1,
                           number.allotment.work_order));
  };
  for (const trace::OtherNumber& number : found.before) {
    other("was before", number);
  }
  for (const trace::OtherNumber& number : found.after) {
    other("is now", number);
  }
  for (const registry::Statement& statement : found.statements) {
    pair("its lot", words_of(statement, owner, found.allotment.product).line);
  }
}

void print_package(const trace::Found& found, const Judged& judged) {
  if (found.package == nullptr) {
    pair("package", crypto::spell_digest(found.allotment.manifest));
    note("that package was not given: name its file with --package to see firmware, settings and "
         "sign-offs");
    return;
  }
  const package::Package& package = *found.package;
  const format::Manifest& m = package.manifest;
  pair("package",
       fmt::format("{}  {}", package.file, crypto::spell_digest(package.manifest_digest)));
  pair("release",
       fmt::format("{} for {} revision {}", release_name(m), m.board.view(), m.board_revision));
  pair("firmware", fmt::format("{}  {}", package.facts.firmware_name.view(),
                               crypto::spell_digest(package.facts.firmware_digest)));
  pair("supply",
       fmt::format("{}, {}", card::volts(m.supply_mv),
                   m.supply_source == format::SupplySource::station ? "by the station"
                                                                    : "by the board itself"));
  for (const format::Deviation& d : package.facts.deviations.view()) {
    pair("deviation", fmt::format("{}: {}", d.number.view(), d.rule.view()));
  }
  const auto verdict = judged.find(&package);
  if (verdict == judged.end()) {
    pair("sign-offs", "as they stand: not verified (--root and --trust do)");
  } else if (!verdict->second.ok()) {
    pair("sign-offs", "NOT GOOD: " + describe(package::refusal(verdict->second, package.file)));
  } else {
    pair("sign-offs", "verified by the root and trust list given");
  }
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    pair("signed off", fmt::format("{} in role {}, {} (claimed): {}", s.person.view(),
                                   format::role_words[static_cast<std::size_t>(s.role)],
                                   words(s.time), s.reason.view()));
  }
}

void print_found(const trace::Found& found, const Judged& judged, const Owner* owner) {
  const registry::AllotmentRow& row = found.allotment;
  say(fmt::format("unit {}", found.unit.text.empty() ? std::to_string(found.unit.number)
                                                     : escaped(found.unit.text)));
  pair("number", fmt::format("{} (ordinal {})", found.unit.number, found.unit.ordinal));
  pair("result", result_sentence(found.result));
  pair("card", fmt::format("{}{}", crypto::hex(row.card), row.spare ? ", a spare" : ""));
  for (const registry::FateRow& fate : found.fates) {
    pair("the card", fmt::format("{} by {}, {} (claimed): {}",
                                 registry::fate_words[static_cast<std::size_t>(fate.note.fate)],
                                 fate.note.by, fate.time, fate.note.note));
  }
  if (row.stopped) {
    pair("stopped", "a withdrawal of what was sealed for it was signed (cardseal card lost)");
  }
  pair("station",
       fmt::format("{}, enrolment {}, allotment {}", row.station, row.enrolment, row.serial));
  pair("work order", fmt::format("{}, class {}{}", row.work_order, row.work_class,
                                 row.date_code ? ", date code " + *row.date_code : ""));
  for (const std::string& whole : found.merged_into) {
    pair("merged into", whole);
  }
  print_order(found);
  print_work(found);
  print_lot(found, owner);
  pair("given", fmt::format("{} (claimed), entry {} of the register", row.time, row.entry_number));
  print_package(found, judged);
}

void print_apart(const trace::Apart& apart) {
  say(fmt::format("number {} (ordinal {})", apart.unit.number, apart.unit.ordinal));
  const std::string_view use = registry::use_words[static_cast<std::size_t>(apart.range.use)];
  pair("no card", fmt::format("{}: {}", use, apart.range.note));
  pair("since", apart.range.time + " (claimed)");
}

Judged judge(const Owner& owner, const std::vector<package::Package>& packages) {
  Judged out;
  for (const package::Package& package : packages) {
    out[&package] = package::judge(package, owner.root, owner.trust.list).outcome;
  }
  return out;
}

// A package that was used and whose sign-offs don't count is no answer to rely on.
bool relies_on_bad(const trace::Answer& answer, const Judged& judged) {
  return std::any_of(answer.found.begin(), answer.found.end(), [&](const trace::Found& found) {
    const auto verdict = judged.find(found.package);
    return verdict != judged.end() && !verdict->second.ok();
  });
}

Error not_found(const TraceOptions& options, const trace::Answer& answer) {
  Error error;
  error.kind = ErrorKind::refused;
  if (!answer.other_label.empty()) {
    error.code = "label-differs";
    error.what = "that number was given, and its label reads otherwise";
    error.place.file = options.registered;
    error.found = options.serial;
    error.expected = answer.other_label.front().unit.text;
    error.hint = "look at the label again: date code or class differ";
    return error;
  }
  error.code = answer.is_a_serial ? "unit-not-given" : "no-serial";
  error.what = answer.is_a_serial ? "this register gave that number to nobody"
                                  : "no package given makes such a serial";
  error.place.file = options.registered;
  error.found = options.ordinal ? fmt::format("ordinal {}", *options.ordinal) : options.serial;
  error.hint = answer.is_a_serial
                   ? "ask the other desks' registers, and name packages of other products"
                   : "type it as it stands on the label; name packages of other products too";
  return error;
}

} // namespace

Ran run_trace(const TraceOptions& options) {
  if (options.serial.empty() == !options.ordinal.has_value()) {
    return Unexpected(usage_error("one unit is asked for, by its serial or its ordinal", "",
                                  "SERIAL, or --ordinal N"));
  }
  if (options.root.empty() != options.trust.empty()) {
    return Unexpected(usage_error("root and trust list belong together", "one of them",
                                  "--root and --trust, or neither"));
  }
  TRY(packages, read_whole_packages(options.packages));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  trace::Question question{options.serial, options.ordinal};
  for (const std::string& file : options.logs) {
    TRY(log, runlog::read_log(io::real_system(), file));
    question.logs.push_back(std::move(log));
  }
  TRY(answer, trace::trace(numbers, packages, question));
  std::optional<Owner> owner;
  Judged judged;
  if (!options.root.empty()) {
    TRY(read, read_owner(options.root, options.trust));
    judged = judge(read, packages);
    owner = std::move(read);
  }
  const bool known = !answer.found.empty() || !answer.apart.empty();
  const int code = known && !relies_on_bad(answer, judged) ? 0 : 1;
  if (options.json) {
    say(view::json_of(answer, judged));
    return code;
  }
  if (!known) {
    return Unexpected(not_found(options, answer));
  }
  for (const trace::Found& found : answer.found) {
    print_found(found, judged, owner ? &*owner : nullptr);
  }
  for (const trace::Apart& apart : answer.apart) {
    print_apart(apart);
  }
  return code;
}

} // namespace cardseal::tool
