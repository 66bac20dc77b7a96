#include "card_outputs.h"
#include "commands_register.h"
#include "common.h"

#include <filesystem>

#include <fmt/format.h>

#include "card/card_set.h"
#include "card/evidence.h"
#include "card_jobs.h"
#include "crypto/sha256.h"
#include "io/clock.h"
#include "register/head_file.h"
#include "serial_source.h"

namespace cardseal::tool {
namespace {

Try<std::vector<format::Id>> to_stations(const CardMakeOptions& options) {
  std::vector<format::Id> stations;
  for (const std::string& name : options.stations) {
    TRY(station, to_id(name, "the station"));
    stations.push_back(station);
  }
  return stations;
}

Try<card::SetOrder> to_set_order(const CardMakeOptions& options) {
  card::SetOrder order;
  TRY(stations, to_stations(options));
  TRY(model, to_id(options.model, "the model"));
  TRY(work_class, to_word(options.work_class, format::work_class_words, "the class of work"));
  TRY(work_order, to_text<24>(options.work_order, "the work order"));
  order.stations = stations;
  order.model = model;
  order.cards = options.cards;
  order.spares = options.spares;
  order.work_class = static_cast<format::WorkClass>(work_class);
  order.work_order = work_order;
  if (!options.card_id.empty()) {
    format::CardId id{};
    if (!parse_hex_bytes(options.card_id, id) || options.cards + options.spares != 1) {
      return Unexpected(usage_error("a card's id is stated for one card, in its form",
                                    options.card_id, "16 lower-case hex digits, and one card",
                                    "leave --card-id out: the register makes ids"));
    }
    order.card_id = id;
  }
  return order;
}

// card.img; of several cards card-01.img, card-02.img, card-spare-01.img.
std::string file_of(const std::string& name, std::size_t index, const CardMakeOptions& options) {
  if (name.empty() || options.cards + options.spares == 1) {
    return name;
  }
  const io::Path path(name);
  const std::string which = index < options.cards
                                ? fmt::format("-{:02}", index + 1)
                                : fmt::format("-spare-{:02}", index + 1 - options.cards);
  return (path.parent_path() / (path.stem().string() + which + path.extension().string())).string();
}

// Before a number is spent.
Try<void> check_outputs(io::System& system, const CardMakeOptions& options) {
  if (!options.sheet.empty() && is_same_file(options.sheet, options.output)) {
    return Unexpected(usage_error("card and sheet can't be one file", options.sheet, "two names"));
  }
  for (std::size_t i = 0; i < std::size_t{options.cards} + options.spares; ++i) {
    for (const std::string& name : {options.output, options.sheet}) {
      const std::string file = file_of(name, i, options);
      if (!file.empty()) {
        TRY_VOID(check_output(system, file, options.registered, options.force));
      }
    }
  }
  return {};
}

void account_job(const card::CardOrder& order, const registry::Range& range,
                 const format::Manifest& manifest) {
  format::Allotment stated;
  stated.work_class = order.work_class;
  stated.date_code = order.date_code;
  say(fmt::format("units     {}  {}", order.units,
                  range.count == 0
                      ? std::string("without numbers")
                      : fmt::format("ordinals {} to {}{}", range.first, range.past() - 1,
                                    texts_of(manifest, stated, range))));
}

void account(const card::SetCard& card, const std::string& file, const card::SetInput& input) {
  say(fmt::format("card      {}  {}{}", file, crypto::hex(card.given.front().card),
                  card.spare ? "  spare" : ""));
  for (std::size_t i = 0; i < card.orders.size(); ++i) {
    const registry::Reserved& given = card.given[i];
    const format::Manifest& manifest = input.jobs[i].package().manifest;
    if (card.orders.size() > 1) {
      say(fmt::format("package   {}  {}", input.jobs[i].package().file, manifest.title.view()));
    }
    say(fmt::format("station   {}  enrolment {}, allotment {}", card.orders[i].station.view(),
                    given.enrolment, given.serial));
    account_job(card.orders[i], given.range, manifest);
  }
}

Try<void> write(io::System& system, const card::Card& card, const std::string& file,
                const std::string& sheet, io::IfExists exists) {
  if (sheet.empty()) {
    return card::write_card(system, card, file, exists);
  }
  TRY(page, io::NewFile::create(system, sheet, exists));
  TRY_VOID(page.write_at(0, bytes_of(card.setup_sheet)));
  TRY_VOID(card::write_card(system, card, file, exists));
  return page.commit();
}

Try<void> tell_newest(registry::Register& numbers, const card::SetInput& input,
                      card::Newest& newest) {
  TRY(met, card::meet_newest(numbers, input, newest));
  if (!met) {
    return {};
  }
  for (const std::string& problem : met->problems) {
    note(problem);
  }
  if (met->standing == registry::Standing::missing && met->abandoned != 0) {
    note(fmt::format("this register lacks the newest allotment that was sealed here ({}): it is an "
                     "older copy. {} numbers were given up; have the owner add a window",
                     newest.path().string(), met->abandoned));
  }
  return {};
}

Ran make(registry::Register& numbers, const card::SetInput& input, card::Newest& newest,
         const CardMakeOptions& options) {
  io::System& system = io::real_system();
  TRY(before, numbers.head());
  const auto write_one = [&](std::size_t index, const card::SetCard& each,
                             const card::Card& made) -> Try<void> {
    const std::string file = file_of(options.output, index, options);
    TRY_VOID(write(system, made, file, file_of(options.sheet, index, options),
                   if_exists(options.force)));
    account(each, file, input);
    if (index == 0) {
      note_results(made.reads);
    }
    return {};
  };
  Try<void> made = card::make_set(numbers, input, newest, write_one);
  if (!made) {
    const Try<registry::Head> after = numbers.head();
    if (after && after->entries != before.entries) {
      note("numbers were given out before this failed; they are spent: cardseal serial list shows "
           "which cards have no image");
    }
    return Unexpected(std::move(made).error());
  }
  return 0;
}

} // namespace

Ran run_card_make_set(const CardMakeOptions& options) {
  TRY(order, to_set_order(options));
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  TRY(packages, read_card_packages(options));
  TRY(jobs, to_jobs(options, owner, packages));
  TRY(key, open_key(options.key));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, owner.root.owner));
  const card::SetInput input{jobs, owner.root, owner.trust, key, order, io::now()};
  if (options.dry_run) {
    TRY(rehearsed, card::rehearse_set(numbers, input));
    for (std::size_t i = 0; i < rehearsed.cards.size(); ++i) {
      account(rehearsed.cards[i], file_of(options.output, i, options), input);
    }
    print_plan(rehearsed.first.plan);
    note_results(rehearsed.first.reads);
    note("dry run: nothing was written, and no number was given");
    return 0;
  }
  TRY_VOID(check_outputs(io::real_system(), options));
  card::Newest newest(io::real_system(), card::newest_path(options.registered), owner.root,
                      owner.trust.list);
  TRY_VOID(tell_newest(numbers, input, newest));
  return make(numbers, input, newest, options);
}

} // namespace cardseal::tool
