#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "card/verify.h"
#include "crypto/sha256.h"
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
  for (const std::string& path : report.unplanned) {
    say(fmt::format("unplanned  {}: the signed index does not know this file", escaped(path)));
  }
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
    say(fmt::format("allotment  station {}, enrolment {}, serial {}, {} units, work order {}",
                    a.station.view(), a.enrolment, a.serial, a.units, a.work_order.view()));
  }
}

} // namespace

Ran run_card_verify(const CardVerifyOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(file, io::ReadFile::open(io::real_system(), options.card));
  fat32::FileSource source(file);
  TRY(report, card::verify_card(source, root));
  if (options.json) {
    say(view::json_of(report));
    return report.sound() ? 0 : 1;
  }
  print_faults(report);
  print_content(report);
  say(report.sound()
          ? fmt::format("good       {}", options.card)
          : fmt::format("not good   {}: do not send it out; make the card again", options.card));
  return report.sound() ? 0 : 1;
}

} // namespace cardseal::tool
