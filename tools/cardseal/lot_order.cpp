// Lot orders: a template, a check, and the cards of one.
#include "card_outputs.h"
#include "commands_lot.h"
#include "common.h"

#include <fmt/format.h>

#include "card/card_set.h"
#include "card/evidence.h"
#include "crypto/sha256.h"
#include "io/clock.h"
#include "job/release_xml.h"
#include "lot/boards.h"
#include "lot/check.h"
#include "lot_words.h"
#include "profile/device.h"
#include "release.h"
#include "serial_source.h"
#include "templates.h"
#include "view/lot_json.h"

namespace cardseal::tool {
namespace {

Try<lot::Order> read_order(const std::string& file, bool json) {
  xml::All<lot::Order> order = lot::read_order(io::real_system(), file);
  if (!order) {
    return Unexpected(report(order.error(), json));
  }
  return std::move(*order);
}

// None: no profile was named.
Try<std::optional<profile::Device>> read_profile(const std::string& file, bool json) {
  if (file.empty()) {
    return std::optional<profile::Device>();
  }
  xml::All<profile::Device> device = xml::read_as(io::real_system(), file, profile::read_device);
  if (!device) {
    return Unexpected(report(device.error(), json));
  }
  return std::optional(std::move(*device));
}

// Where the lot stands; none: nothing was made for this order yet.
Try<std::optional<lot::Account>> account_so_far(registry::Register& numbers,
                                                const std::string& work_order,
                                                const lot::CountsFirst& counts = {}) {
  Try<lot::Account> account = lot::account_of(numbers, work_order, counts);
  if (account) {
    return std::optional(std::move(*account));
  }
  if (account.error().code == "work-order-unknown") {
    return std::optional<lot::Account>();
  }
  return Unexpected(std::move(account).error());
}

void say_order(const lot::Order& order, const std::vector<lot::OrderCard>& to_make) {
  say(fmt::format("work order  {}, revision {}, class {}", order.work_order, order.revision,
                  format::work_class_words[static_cast<std::size_t>(order.work_class)]));
  say(fmt::format("release     {} {}, board revision {}", order.product, order.version,
                  order.board_revision));
  say(fmt::format("boards      {}, and {} spares", order.quantity, order.spares));
  for (const lot::Reel& reel : order.reels) {
    say(fmt::format("reel        {} of {}", reel.lot, reel.part));
  }
  for (const lot::SiliconRevision& silicon : order.silicon) {
    say(fmt::format("silicon     revision {} may be on these boards: no station looks at it",
                    escaped(silicon.title)));
  }
  for (const lot::OrderCard& card : order.cards) {
    const bool due = std::any_of(to_make.begin(), to_make.end(), [&](const lot::OrderCard& other) {
      return other.place == card.place;
    });
    say(fmt::format("card        place {}: {} units for {}{}{}{}", card.place, card.units,
                    card.station, card.spare ? ", a spare" : "",
                    card.continues.empty() ? ""
                                           : fmt::format(", goes on for place {}", card.continues),
                    due ? "" : "  (not now)"));
  }
}

// All but the last are printed, which is returned.
Error last_of(const std::vector<Error>& errors, bool json) {
  return report(errors, json);
}

struct Job { // everything that the cards of an order need
  lot::Order order;
  package::Package package;
  Owner owner;
};

// What `make_set` is asked for one card of the order.
struct Wanted {
  card::SetOrder set;
  std::uint32_t units = 1;
  std::uint32_t slots = 0;
  format::Maybe<format::Text<16>> date_code;
  format::Numbers numbers = format::Numbers::fresh;
  lot::Boards boards;
};

Try<Wanted> wanted_of(const Job& job, const lot::OrderCard& card) {
  const lot::Order& order = job.order;
  Wanted out;
  TRY(station, to_id(card.station, "the station"));
  TRY(model, to_id(card.model, "the model"));
  TRY(work_order, to_text<24>(order.work_order, "the work order"));
  out.set.stations = {station};
  out.set.model = model;
  out.set.work_class = order.work_class;
  out.set.work_order = work_order;
  out.set.place = card.place;
  out.set.parent = order.parent;
  if (card.spare) {
    out.set.cards = 0;
    out.set.spares = 1;
  }
  out.units = card.units;
  if (!order.date_code.empty()) {
    TRY(date_code, to_text<16>(order.date_code, "the date code"));
    out.date_code.set(date_code);
  }
  if (!card.slots.empty()) {
    (void)job::parse_slots(card.slots, out.slots); // checked before
  }
  out.numbers = card.numbers;
  out.boards = lot::boards_of(order, card, job.package.manifest); // checked before
  return out;
}

// By the card's position in the order: the same name however often the order is run.
std::string file_of(const std::string& name, const lot::Order& order, const lot::OrderCard& card) {
  if (name.empty() || order.cards.size() == 1) {
    return name;
  }
  std::size_t position = 0;
  while (order.cards[position].place != card.place) {
    ++position;
  }
  const io::Path path(name);
  return (path.parent_path() /
          fmt::format("{}-{:02}{}", path.stem().string(), position + 1, path.extension().string()))
      .string();
}

Try<void> check_outputs(const LotCardsOptions& options, const lot::Order& order,
                        const std::vector<lot::OrderCard>& cards) {
  if (!options.sheet.empty() && is_same_file(options.sheet, options.output)) {
    return Unexpected(usage_error("card and sheet can't be one file", options.sheet, "two names"));
  }
  for (const lot::OrderCard& card : cards) {
    for (const std::string& name : {options.output, options.sheet}) {
      const std::string file = file_of(name, order, card);
      if (!file.empty()) {
        TRY_VOID(check_output(io::real_system(), file, options.registered, options.force));
      }
    }
  }
  return {};
}

void say_card(const card::SetCard& card, const lot::OrderCard& place, const std::string& file,
              const format::Manifest& manifest) {
  format::Allotment stated;
  stated.work_class = card.orders.front().work_class;
  stated.date_code = card.orders.front().date_code;
  const card::CardOrder& order = card.orders.front();
  const registry::Reserved& given = card.given.front();
  const registry::Range& range = given.range;
  say(fmt::format("card        {}  {}{}", file, crypto::hex(given.card),
                  place.spare ? "  spare" : ""));
  say(fmt::format("  place {}  station {}, enrolment {}, allotment {}", place.place,
                  order.station.view(), given.enrolment, given.serial));
  say(fmt::format("  units {}{}", order.units,
                  range.count == 0 ? std::string("  without numbers")
                  : order.numbers != format::Numbers::fresh
                      ? fmt::format("  boards that have numbers, {} from ordinal {} on",
                                    format::numbers_words[static_cast<std::size_t>(order.numbers)],
                                    range.first)
                      : fmt::format("  ordinals {} to {}{}", range.first, range.past() - 1,
                                    texts_of(manifest, stated, range))));
}

Try<void> write_card(const LotCardsOptions& options, const std::string& file,
                     const std::string& sheet, const card::Card& card) {
  io::System& system = io::real_system();
  const io::IfExists exists = if_exists(options.force);
  if (sheet.empty()) {
    return card::write_card(system, card, file, exists);
  }
  TRY(page, io::NewFile::create(system, sheet, exists));
  TRY_VOID(page.write_at(0, bytes_of(card.setup_sheet)));
  TRY_VOID(card::write_card(system, card, file, exists));
  return page.commit();
}

// All cards are rehearsed before a number of the first is spent.
Ran make_cards(registry::Register& numbers, const LotCardsOptions& options, const Job& job,
               const std::vector<lot::OrderCard>& cards) {
  TRY(judged, package::Judged::of(job.package, job.owner.root, job.owner.trust.list));
  TRY(key, open_key(options.key));
  const auto input = [&](const Wanted& wanted) {
    return card::SetInput{{{judged, wanted.units, wanted.slots, wanted.date_code, wanted.numbers,
                            wanted.boards.spans}},
                          job.owner.root,
                          job.owner.trust,
                          key,
                          wanted.set,
                          io::now()};
  };
  format::StationReads reads = format::StationReads::signed_package;
  for (const lot::OrderCard& card : cards) {
    TRY(wanted, wanted_of(job, card));
    TRY(rehearsed, card::rehearse_set(numbers, input(wanted)));
    reads = rehearsed.first.reads;
    if (options.dry_run) {
      say(fmt::format("would make  {}: place {}, {} units for {}",
                      file_of(options.output, job.order, card), card.place, card.units,
                      rehearsed.cards.front().orders.front().station.view()));
    }
  }
  if (options.dry_run) {
    note_results(reads);
    note("dry run: nothing was written, and no number was given");
    return 0;
  }
  TRY_VOID(check_outputs(options, job.order, cards));
  TRY_VOID(numbers.enter_order(lot::row_of(job.order, job.package)));
  card::Newest newest(io::real_system(), card::newest_path(options.registered), job.owner.root,
                      job.owner.trust.list);
  for (const lot::OrderCard& card : cards) {
    TRY(wanted, wanted_of(job, card));
    const std::string file = file_of(options.output, job.order, card);
    const auto write = [&](std::size_t, const card::SetCard& each,
                           const card::Card& made) -> Try<void> {
      TRY_VOID(write_card(options, file, file_of(options.sheet, job.order, card), made));
      say_card(each, card, file, job.package.manifest);
      return {};
    };
    TRY_VOID(card::make_set(numbers, input(wanted), newest, write));
  }
  note_results(reads);
  return 0;
}

} // namespace

Ran run_lot_new(const LotNewOptions& options) {
  TRY_VOID(io::write_file(io::real_system(), options.file, bytes_of(order_template()),
                          io::IfExists::refuse));
  say(fmt::format("lot order  {}", options.file));
  note(fmt::format("next: fill it in, then cardseal lot check {} --package PACKAGE", options.file));
  return 0;
}

Ran run_lot_check(const LotCheckOptions& options) {
  TRY(order, read_order(options.order, options.json));
  TRY(package, package::read(io::real_system(), options.package));
  std::optional<lot::Account> account;
  if (!options.registered.empty()) {
    TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
    TRY(so_far, account_so_far(numbers, order.work_order));
    account = std::move(so_far);
  }
  const lot::Account* known = account ? &*account : nullptr;
  TRY(device, read_profile(options.device, options.json));
  const std::vector<Error> errors =
      lot::check_order(order, package, known, device ? &*device : nullptr);
  const std::vector<lot::OrderCard> to_make = lot::cards_to_make(order, known);
  if (options.json) {
    say(view::json_of(order, to_make, errors));
    return errors.empty() ? 0 : 1;
  }
  if (!errors.empty()) {
    return Unexpected(last_of(errors, false));
  }
  say_order(order, to_make);
  note(options.registered.empty()
           ? "the order fits its package; --register also holds it against what was made"
           : "the order fits its package and the register");
  return 0;
}

Ran run_lot_cards(const LotCardsOptions& options) {
  TRY(order, read_order(options.order, false));
  TRY(package, package::read(io::real_system(), options.package));
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, owner.root.owner));
  const auto counts = [&](const registry::Statement& statement) {
    return words_of(statement, &owner, order.product).good;
  };
  TRY(account, account_so_far(numbers, order.work_order, counts));
  const lot::Account* known = account ? &*account : nullptr;
  TRY(device, read_profile(options.device, false));
  const std::vector<Error> errors =
      lot::check_order(order, package, known, device ? &*device : nullptr);
  if (!errors.empty()) {
    return Unexpected(last_of(errors, false));
  }
  const std::vector<lot::OrderCard> to_make = lot::cards_to_make(order, known);
  if (to_make.empty()) {
    note("every place of this order has its card; nothing was made");
    return 0;
  }
  const Job job{std::move(order), std::move(package), std::move(owner)};
  return make_cards(numbers, options, job, to_make);
}

} // namespace cardseal::tool
