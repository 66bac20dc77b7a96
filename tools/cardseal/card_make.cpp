#include "commands_register.h"
#include "common.h"

#include <fmt/format.h>

#include "card/make.h"
#include "card_jobs.h"
#include "card_outputs.h"
#include "crypto/sha256.h"
#include "words.h"

namespace cardseal::tool {
namespace {

Try<card::CardOrder> to_order(const CardMakeOptions& options) { // but for what each job states
  card::CardOrder order;
  if (!parse_hex_bytes(options.card_id, order.card_id)) {
    return Unexpected(usage_error("the card's id is not in its form", options.card_id,
                                  "16 lower-case hex digits, never used before"));
  }
  if (!options.serial || options.first.empty() || options.stations.size() != 1 ||
      options.cards != 1 || options.spares != 0) {
    return Unexpected(usage_error(
        "without a register, the numbers of one card for one station are stated by hand", "",
        "--card-id, --serial, --first and one --station", "or name the desk's --register"));
  }
  TRY(station, to_id(options.stations[0], "the station"));
  TRY(model, to_id(options.model, "the model"));
  TRY(work_class, to_word(options.work_class, format::work_class_words, "the class of work"));
  TRY(work_order, to_text<24>(options.work_order, "the work order"));
  order.station = station;
  order.model = model;
  order.enrolment = options.enrolment.value_or(1);
  order.work_class = static_cast<format::WorkClass>(work_class);
  order.work_order = work_order;
  return order;
}

Try<std::vector<card::CardJob>> to_card_jobs(const CardMakeOptions& options, const Owner& owner,
                                             const std::vector<package::Package>& packages) {
  TRY(order, to_order(options));
  if (options.first.size() != packages.size()) {
    return Unexpected(usage_error("each package on the card has a range of its own",
                                  fmt::format("--first {} times", options.first.size()),
                                  fmt::format("once for each of {} packages", packages.size())));
  }
  TRY(jobs, to_jobs(options, owner, packages));
  std::vector<card::CardJob> out;
  for (const card::SetJob& job : jobs) {
    order.serial = *options.serial + out.size();
    order.first = options.first[out.size()];
    order.units = job.units;
    order.enabled_slots = job.enabled_slots;
    order.date_code = job.date_code;
    out.push_back({job.judged, order});
  }
  return out;
}

// The sheet is on disk before the card gets its name, so that no card is left without its sheet.
Try<void> write(io::System& system, const card::Card& card, const CardMakeOptions& options) {
  const io::IfExists exists = if_exists(options.force);
  if (options.sheet.empty()) {
    return card::write_card(system, card, options.output, exists);
  }
  TRY(sheet, io::NewFile::create(system, options.sheet, exists));
  TRY_VOID(sheet.write_at(0, bytes_of(card.setup_sheet)));
  TRY_VOID(card::write_card(system, card, options.output, exists));
  return sheet.commit();
}

void account(const card::Card& card, const std::vector<card::CardJob>& jobs,
             const CardMakeOptions& options) {
  say(fmt::format("card      {}  {}", options.output,
                  card.reads == format::StationReads::plain_file
                      ? "plain firmware file; the station checks nothing"
                      : "signed package"));
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    const format::Allotment& a = card.allotments[i].allotment;
    if (jobs.size() > 1) {
      say(fmt::format("package   {}  {}", options.packages[i],
                      jobs[i].package().manifest.title.view()));
    }
    say(fmt::format("station   {}  enrolment {}, allotment {}", a.station.view(), a.enrolment,
                    a.serial));
    say(fmt::format("units     {}  ordinals {} to {}", a.units, jobs[i].order.first,
                    jobs[i].order.first + a.units - 1));
  }
  print_plan(card.plan);
}

} // namespace

Ran run_card_make(const CardMakeOptions& options) {
  if (!options.registered.empty()) {
    return run_card_make_set(options);
  }
  io::System& system = io::real_system();
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  TRY(packages, read_card_packages(options));
  for (const package::Package& package : packages) {
    if (package.facts.deviations.count != 0) {
      return Unexpected(usage_error("this package rests on a deviation for so many boards",
                                    "no --register",
                                    "--register, which counts the boards on all its cards"));
    }
  }
  TRY(jobs, to_card_jobs(options, owner, packages));
  TRY(key, open_key(options.key));
  TRY(card, card::make_card({jobs, owner.root, owner.trust, key}));
  if (!options.dry_run) {
    TRY_VOID(write(system, card, options));
  }
  account(card, jobs, options);
  note_results(card.reads);
  if (options.dry_run) {
    note("dry run: nothing was written");
    return 0;
  }
  note(
      "these numbers are given out now, used or not, and no register remembers them: keep your own "
      "list, never state a range twice, and show the card to the register that this desk gets: "
      "cardseal serial meet");
  return 0;
}

} // namespace cardseal::tool
