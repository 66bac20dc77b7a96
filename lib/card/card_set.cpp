#include "card/card_set.h"

#include <algorithm>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "package/deviations.h"
#include "package/scheme_definition.h"

namespace cardseal::card {
namespace {

// The narrowest number of stations that those allow whose limits count; trust::PackageVerdict has
// the other limits.
format::Maybe<std::uint32_t> most_stations(const package::Package& package, bool engineering) {
  const format::Role role = engineering ? format::Role::engineering : format::Role::quality;
  format::Maybe<std::uint32_t> most;
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Maybe<std::uint32_t>& stations = entry.signoff.stations;
    if (entry.signoff.role == role && stations.present) {
      most.set(most.present ? std::min(most.value, stations.value) : stations.value);
    }
  }
  return most;
}

std::vector<format::Window> windows_for(const SetInput& in) {
  const bool engineering = in.order.work_class == format::WorkClass::engineering;
  return seal::windows_of(in.trust.list, in.allot_key.public_key(),
                          engineering ? format::WindowUse::engineering
                                      : format::WindowUse::shipment);
}

CardOrder order_of(const SetInput& in, std::size_t index) {
  CardOrder order;
  order.station = in.order.stations[index % in.order.stations.size()];
  order.model = in.order.model;
  order.units = in.order.units;
  order.work_class = in.order.work_class;
  order.work_order = in.order.work_order;
  order.enabled_slots = in.order.enabled_slots;
  order.date_code = in.order.date_code;
  return order;
}

Try<registry::SetRequest> request_of(const SetInput& in) {
  const package::Judgement judged = package::judge(in.package, in.root, in.trust.list);
  if (!judged.outcome.ok()) {
    return Unexpected(package::refusal(judged.outcome, in.package.file));
  }
  const format::Manifest& manifest = in.package.manifest;
  registry::SetRequest set;
  set.manifest = in.package.manifest_digest;
  set.product = manifest.product;
  if (manifest.scheme.present) {
    set.scheme.set(manifest.scheme.value.id);
    set.capacity = manifest.scheme.value.capacity;
    set.definition = package::scheme_definition(manifest);
  }
  set.permitted = windows_for(in);
  set.work_class = in.order.work_class;
  set.work_order = in.order.work_order;
  set.date_code = in.order.date_code;
  set.limits = {judged.verdict.units_a_station,
                most_stations(in.package, judged.verdict.engineering), judged.verdict.numbers};
  for (std::size_t i = 0; i < std::size_t{in.order.cards} + in.order.spares; ++i) {
    const CardOrder order = order_of(in, i);
    Try<std::uint32_t> slots = slots_of(in.package, order);
    if (!slots) {
      return Unexpected(std::move(slots).error());
    }
    set.cards.push_back(
        {order.station, in.order.units, *slots, i >= in.order.cards, in.order.card_id});
  }
  return set;
}

SetCard set_card(const SetInput& in, std::size_t index, const registry::Reserved& given) {
  SetCard card{index >= in.order.cards, order_of(in, index), given};
  card.order.card_id = given.card;
  card.order.enrolment = given.enrolment;
  card.order.serial = given.serial;
  card.order.first = given.range.first;
  card.order.register_entry.set(given.entry);
  return card;
}

Try<std::vector<SetCard>> reserve(registry::Register& numbers, const SetInput& in,
                                  const registry::SetRequest& request, bool rehearse) {
  Try<std::vector<registry::Reserved>> given = numbers.reserve(request, rehearse);
  if (!given) {
    return Unexpected(std::move(given).error());
  }
  std::vector<SetCard> cards;
  for (const registry::Reserved& each : *given) {
    cards.push_back(set_card(in, cards.size(), each));
  }
  return cards;
}

// Boards on all cards of this package that the register knows, spares and unused ones too: nobody
// can tell which of them will be made.
Try<std::uint64_t> boards_on_cards(registry::Register& numbers, const SetInput& in) {
  std::uint64_t boards = 0;
  Try<void> done = numbers.each_allotment([&](const registry::AllotmentRow& row) {
    boards += row.manifest == in.package.manifest_digest ? row.units : 0;
  });
  return done ? Try<std::uint64_t>(boards) : Unexpected(std::move(done).error());
}

Try<void> check_deviations(registry::Register& numbers, const SetInput& in, std::uint64_t more) {
  if (in.package.facts.deviations.count == 0) {
    return {};
  }
  Try<void> running = package::check_deviations_approved(in.package);
  running = running ? package::check_deviations_at(in.package, in.now) : std::move(running);
  Try<std::uint64_t> made =
      running ? boards_on_cards(numbers, in) : Unexpected(std::move(running).error());
  return made ? package::check_deviation_boards(in.package, *made, more)
              : Unexpected(std::move(made).error());
}

std::uint64_t boards_of(const SetInput& in) {
  return (std::uint64_t{in.order.cards} + in.order.spares) * in.order.units;
}

// The cards of a set differ in numbers and stations only: what one can't be, none can.
Try<std::vector<SetCard>> rehearse(registry::Register& numbers, const SetInput& in,
                                   const registry::SetRequest& request) {
  if (Try<void> within = check_deviations(numbers, in, boards_of(in)); !within) {
    return Unexpected(std::move(within).error());
  }
  Try<std::vector<SetCard>> cards = reserve(numbers, in, request, true);
  if (cards && !cards->empty()) {
    Try<Card> made =
        make_card({in.package, in.root, in.trust, in.allot_key, cards->front().order, true});
    if (!made) {
      return Unexpected(std::move(made).error());
    }
  }
  return cards;
}

// The newest allotment that was sealed here is in this register's history: else this is an older
// copy, whose next numbers may be on cards already.
Try<void> check_newest(io::System& system, registry::Register& numbers, const SetInput& in,
                       const io::Path& newest) {
  Try<std::optional<registry::Evidence>> kept = read_newest(system, newest, in.root, in.trust.list);
  if (!kept) {
    return Unexpected(std::move(kept).error());
  }
  Try<bool> known = *kept ? numbers.knows(**kept) : Try<bool>(true);
  if (!known) {
    return Unexpected(std::move(known).error());
  }
  if (!*known) {
    Error error;
    error.kind = ErrorKind::refused;
    error.code = "register-older";
    error.what = "the register lacks the newest allotment that was sealed here";
    error.place.file = newest.string();
    error.hint = "it is an older copy: show it every card made since, cardseal serial meet";
    return Unexpected(std::move(error));
  }
  return {};
}

Try<void> make_one(io::System& system, registry::Register& numbers, const SetInput& in,
                   const io::Path& newest, const SetCard& each, std::size_t index,
                   const WriteCard& write) {
  Try<Card> card = make_card({in.package, in.root, in.trust, in.allot_key, each.order});
  if (!card) {
    return Unexpected(std::move(card).error());
  }
  const auto keep = [&](bool is_newest) -> Try<void> {
    Try<void> sound = check_newest(system, numbers, in, newest);
    return sound && is_newest
               ? keep_newest(system, newest, card->allotment_text, card->allotment_signature)
               : std::move(sound);
  };
  Try<void> done = numbers.seal(each.given, crypto::sha256(card->allotment_text), keep);
  if (done) {
    done = write(index, each, *card);
  }
  return done ? numbers.written(each.given.allotment) : done;
}

} // namespace

Try<std::optional<registry::Met>> meet_newest(io::System& system, registry::Register& numbers,
                                              const SetInput& in, const io::Path& newest) {
  Try<std::optional<registry::Evidence>> kept = read_newest(system, newest, in.root, in.trust.list);
  if (!kept) {
    return Unexpected(std::move(kept).error());
  }
  if (!*kept) {
    return std::optional<registry::Met>();
  }
  Try<registry::Met> met =
      numbers.meet(**kept, seal::windows_of(in.trust.list, in.allot_key.public_key()));
  if (!met) {
    return Unexpected(std::move(met).error());
  }
  return std::optional(std::move(*met));
}

Try<std::vector<SetCard>> rehearse_set(registry::Register& numbers, const SetInput& in) {
  Try<registry::SetRequest> request = request_of(in);
  if (!request) {
    return Unexpected(std::move(request).error());
  }
  return rehearse(numbers, in, *request);
}

Try<void> make_set(io::System& system, registry::Register& numbers, const SetInput& in,
                   const io::Path& newest, const WriteCard& write) {
  Try<registry::SetRequest> request = request_of(in);
  if (!request) {
    return Unexpected(std::move(request).error());
  }
  Try<std::vector<SetCard>> cards = rehearse(numbers, in, *request);
  if (cards) {
    cards = reserve(numbers, in, *request, false);
  }
  if (!cards) {
    return Unexpected(std::move(cards).error());
  }
  // Once more with these counted: another card may have been made meanwhile.
  if (Try<void> within = check_deviations(numbers, in, 0); !within) {
    return within;
  }
  for (std::size_t i = 0; i < cards->size(); ++i) {
    Try<void> made = make_one(system, numbers, in, newest, (*cards)[i], i, write);
    if (!made) {
      return made;
    }
  }
  return {};
}

} // namespace cardseal::card
