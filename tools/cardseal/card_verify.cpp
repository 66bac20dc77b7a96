#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "card/verify.h"
#include "crypto/no_secrets.h"
#include "crypto/sha256.h"
#include "runlog/log_file.h"
#include "seal/withdrawal.h"
#include "view/json.h"
#include "words.h"

namespace cardseal::tool {
namespace {

void print_faults(const card::CardReport& report) {
  for (const Finding& finding : report.structure.kept()) {
    say(fmt::format("structure  {}: {} [{}]", escaped(finding.place.item), finding.text,
                    finding.rule->id));
  }
  for (const Error& problem : report.problems) {
    say(fmt::format("content    {}", describe(problem)));
  }
  for (const std::string& path : report.left_over) {
    say(fmt::format("left over  {}: by a system that had the card in its reader", escaped(path)));
  }
  for (const std::string& path : report.unplanned) {
    say(fmt::format("unplanned  {}: the signed index does not know this file", escaped(path)));
  }
}

const card::CardPackage* package_of(const card::CardReport& report,
                                    const format::Allotment& allotment) {
  for (const card::CardPackage& each : report.packages) {
    if (each.package.manifest_digest == allotment.manifest) {
      return &each;
    }
  }
  return nullptr;
}

void print_content(const card::CardReport& report) {
  if (!report.index) {
    return;
  }
  if (report.root_version > 1) {
    say(fmt::format("roots      to version {}, each signed by the one before",
                    report.root_version));
  }
  say(fmt::format("card       {}  {} files match the signed index",
                  crypto::hex(report.index->card_id), report.files_checked));
  for (const format::Withdrawal& withdrawal : report.withdrawals) {
    say(fmt::format("withdraws  {}: {} ({})", seal::stopped_words(withdrawal),
                    escaped(withdrawal.reason.view()), withdrawal.person.view()));
  }
  for (const card::CardPackage& on_card : report.packages) {
    say(fmt::format("package    {}  {} ({})", on_card.path, on_card.package.manifest.title.view(),
                    release_name(on_card.package.manifest)));
  }
  for (const format::Allotment& a : report.allotments) {
    const card::CardPackage* of = package_of(report, a);
    const bool several = report.packages.size() > 1 && of != nullptr;
    say(fmt::format("allotment  station {}, enrolment {}, serial {}, {} units{}, work order {}",
                    a.station.view(), a.enrolment, a.serial, a.units,
                    several ? fmt::format(" of {}", of->package.manifest.title.view()) : "",
                    a.work_order.view()));
  }
  if (format::works_without_log(*report.index)) {
    say("log        none, as signed: results come back as a hand tally");
  }
}

void print_log(const runlog::LogFile& log) {
  say(fmt::format("log        {} records in {} sectors{}", log.lines.size(), log.sectors,
                  log.whole()
                      ? ", whole"
                      : fmt::format("; {} sectors spoiled, {} places where a record is "
                                    "missing or was changed, {} sectors cut off",
                                    log.spoiled.size(), log.broken.size(), log.missing_sectors)));
}

Error other_card(const CardVerifyOptions& options, const format::CardId& found,
                 const format::CardId& expected) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "log-other-card";
  error.what = "the run log is another card's";
  error.place.file = options.card;
  error.place.item = runlog::log_path;
  error.found = crypto::hex(found);
  error.expected = crypto::hex(expected);
  error.hint = "somebody copied files between cards; find the card that this log belongs to";
  return error;
}

// The log of a card that came back; none: it is not asked for, the card has none, or it can't be
// read, which the report then says.
std::optional<runlog::LogFile> log_of(const CardVerifyOptions& options, card::CardReport& report) {
  if (!options.returned || !report.index || !report.index->log.present) {
    return std::nullopt;
  }
  Try<runlog::LogFile> log = runlog::read_log(io::real_system(), options.card);
  if (!log) {
    report.problems.push_back(std::move(log).error());
    return std::nullopt;
  }
  if (log->card != report.index->card_id) {
    report.problems.push_back(other_card(options, log->card, report.index->card_id));
  }
  return std::move(*log);
}

std::string verdict(const CardVerifyOptions& options, const card::CardReport& report, bool whole) {
  const std::string name = escaped(options.card);
  if (!report.sound() && !report.touched()) {
    return fmt::format("not good   {}: {}", name,
                       options.returned
                           ? "what is wrong stands above; keep the card as it is, and reconcile it"
                           : "do not send it out; make the card again");
  }
  if (!whole) {
    return fmt::format("log gaps   {}: content sound; reconcile it, and count its boards by hand",
                       name);
  }
  return report.touched() ? fmt::format("touched    {}: content sound", name)
                          : fmt::format("good       {}", name);
}

} // namespace

Ran run_card_verify(const CardVerifyOptions& options) {
  crypto::expect_no_secrets();
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(file, io::ReadFile::open(io::real_system(), options.card));
  fat32::FileSource source(file);
  const auto state = options.returned ? card::LogState::returned : card::LogState::initial;
  TRY(report, card::verify_card(source, root, state));
  const std::optional<runlog::LogFile> log = log_of(options, report);
  const bool whole = !log || log->whole();
  const bool good = (report.sound() || report.touched()) && whole;
  if (options.json) {
    say(view::json_of(report, log ? &*log : nullptr));
    return good ? 0 : 1;
  }
  print_faults(report);
  print_content(report);
  if (log) {
    print_log(*log);
  }
  say(verdict(options, report, whole));
  if (good && report.touched() && !options.returned) {
    note("what is signed is as it was made; before it goes out, write the card again");
  }
  return good ? 0 : 1;
}

} // namespace cardseal::tool
