#include "commands_trace.h"
#include "common.h"

#include <fmt/format.h>

#include "card/sheet.h"
#include "crypto/sha256.h"
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
    return "not known: no log and no tally of its card came back (cardseal reconcile)";
  case trace::Result::unused:
    return "unused: its card's log came back, and the unit was never begun";
  case trace::Result::begun:
    return "begun, and not known to have ended well: failed, or in doubt";
  case trace::Result::good:
    return "good";
  }
  return "";
}

void print_package(const trace::Found& found) {
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
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    pair("signed off", fmt::format("{} in role {}, {} (claimed): {}", s.person.view(),
                                   format::role_words[static_cast<std::size_t>(s.role)],
                                   words(s.time), s.reason.view()));
  }
}

void print_found(const trace::Found& found) {
  const registry::AllotmentRow& row = found.allotment;
  say(fmt::format("unit {}", found.unit.text.empty() ? std::to_string(found.unit.number)
                                                     : escaped(found.unit.text)));
  pair("number", fmt::format("{} (ordinal {})", found.unit.number, found.unit.ordinal));
  pair("result", result_sentence(found.result));
  pair("card", fmt::format("{}{}", crypto::hex(row.card), row.spare ? ", a spare" : ""));
  pair("station",
       fmt::format("{}, enrolment {}, allotment {}", row.station, row.enrolment, row.serial));
  pair("work order", fmt::format("{}, class {}{}", row.work_order, row.work_class,
                                 row.date_code ? ", date code " + *row.date_code : ""));
  pair("given", fmt::format("{} (claimed), entry {} of the register", row.time, row.entry_number));
  print_package(found);
}

void print_apart(const trace::Apart& apart) {
  say(fmt::format("number {} (ordinal {})", apart.unit.number, apart.unit.ordinal));
  const std::string_view use = registry::use_words[static_cast<std::size_t>(apart.range.use)];
  pair("no card", fmt::format("{}: {}", use, apart.range.note));
  pair("since", apart.range.time + " (claimed)");
}

// With a trust list, whether the package would be taken today.
Try<void> judge(const TraceOptions& options, const std::vector<package::Package>& packages) {
  if (options.root.empty()) {
    note("who may sign was not looked at (--root and --trust do)");
    return {};
  }
  TRY(owner, read_owner(options.root, options.trust));
  for (const package::Package& package : packages) {
    const package::Judgement judged = package::judge(package, owner.root, owner.trust.list);
    if (!judged.outcome.ok()) {
      note(fmt::format("{}: by the trust list given, {}", package.file,
                       describe(package::refusal(judged.outcome, package.file))));
    }
  }
  return {};
}

Error not_found(const TraceOptions& options, const trace::Answer& answer) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = answer.is_a_serial ? "unit-not-given" : "no-serial";
  error.what = answer.is_a_serial ? "this register gave that number to nobody"
                                  : "no package given makes such a serial";
  error.place.file = options.registered;
  error.found = options.ordinal ? fmt::format("ordinal {}", *options.ordinal) : options.serial;
  error.hint = answer.is_a_serial
                   ? "ask the other desks' registers; if none knows it, Cardseal never gave it"
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
  std::vector<package::Package> packages;
  for (const std::string& file : options.packages) {
    TRY(package, package::read(io::real_system(), file));
    packages.push_back(std::move(package));
  }
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(answer, trace::trace(numbers, packages, {options.serial, options.ordinal}));
  const bool known = !answer.found.empty() || !answer.apart.empty();
  if (options.json) {
    say(view::json_of(answer));
    return known ? 0 : 1;
  }
  if (!known) {
    return Unexpected(not_found(options, answer));
  }
  for (const trace::Found& found : answer.found) {
    print_found(found);
  }
  for (const trace::Apart& apart : answer.apart) {
    print_apart(apart);
  }
  TRY_VOID(judge(options, packages));
  return 0;
}

} // namespace cardseal::tool
