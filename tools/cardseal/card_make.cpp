#include "commands_register.h"
#include "common.h"

#include <fmt/format.h>

#include "card/make.h"
#include "crypto/sha256.h"
#include "job/release_xml.h"
#include "words.h"

namespace cardseal::tool {
namespace {

Try<card::CardOrder> to_order(const CardMakeOptions& options) {
  card::CardOrder order;
  if (!parse_hex_bytes(options.card_id, order.card_id)) {
    return Unexpected(usage_error("the card's id is not in its form", options.card_id,
                                  "16 lower-case hex digits, never used before"));
  }
  if (!options.serial || !options.first || options.stations.size() != 1 || options.cards != 1 ||
      options.spares != 0) {
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
  order.serial = *options.serial;
  order.first = *options.first;
  order.units = options.units;
  order.work_class = static_cast<format::WorkClass>(work_class);
  order.work_order = work_order;
  if (!options.date_code.empty()) {
    TRY(date_code, to_text<16>(options.date_code, "the date code"));
    order.date_code.set(date_code);
  }
  if (!options.slots.empty() && !job::parse_slots(options.slots, order.enabled_slots)) {
    return Unexpected(usage_error("the slots are not in their form", options.slots, "like 1-3,5"));
  }
  return order;
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

void account(const card::Card& card, const CardMakeOptions& options) {
  say(fmt::format("card      {}  {}", options.output,
                  card.plain ? "plain firmware file; the station checks nothing"
                             : "signed package"));
  const format::Allotment& a = card.allotment;
  say(fmt::format("station   {}  enrolment {}, allotment {}", a.station.view(), a.enrolment,
                  a.serial));
  say(fmt::format("units     {}  ordinals {} to {}", a.units, *options.first,
                  *options.first + a.units - 1));
  say(fmt::format("volume    {} sectors, {} clusters of {} bytes, {} free",
                  card.plan.shape.image_sectors, card.plan.shape.cluster_count,
                  card.plan.shape.cluster_bytes(), card.plan.free_clusters()));
  for (const fat32::PlannedFile& file : card.plan.files) {
    say(fmt::format("  {:<20} {:>9} bytes  sector {}", file.short_path, file.size,
                    file.extent.first_lba));
  }
}

} // namespace

Ran run_card_make(const CardMakeOptions& options) {
  if (!options.registered.empty()) {
    return run_card_make_set(options);
  }
  io::System& system = io::real_system();
  TRY(order, to_order(options));
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  TRY(package, package::read(system, options.package));
  if (package.facts.deviations.count != 0) {
    return Unexpected(usage_error("this package rests on a deviation for so many boards",
                                  "no --register",
                                  "--register, which counts the boards on all its cards"));
  }
  TRY(key, open_key(options.key));
  TRY(card, card::make_card({package, owner.root, owner.trust, key, order}));
  if (!options.dry_run) {
    TRY_VOID(write(system, card, options));
  }
  account(card, options);
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
