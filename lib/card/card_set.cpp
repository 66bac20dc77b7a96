#include "card/card_set.h"

#include <algorithm>

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

CardOrder order_of(const SetInput& in, const SetJob& job, std::size_t index) {
  CardOrder order;
  order.station = in.order.stations[index % in.order.stations.size()];
  order.model = in.order.model;
  order.units = job.units;
  order.work_class = in.order.work_class;
  order.work_order = in.order.work_order;
  order.enabled_slots = job.enabled_slots;
  order.date_code = job.date_code;
  order.numbers = job.numbers;
  order.spans = job.spans;
  return order;
}

Try<registry::SetRequest> request_of(const SetInput& in, const SetJob& job) {
  const trust::PackageVerdict& verdict = job.judged.verdict();
  const format::Manifest& manifest = job.package().manifest;
  registry::SetRequest set;
  set.manifest = job.package().manifest_digest;
  set.product = manifest.product;
  if (manifest.scheme.present) {
    set.scheme.set(manifest.scheme.value.id);
    set.capacity = manifest.scheme.value.capacity;
    set.definition = package::scheme_definition(manifest);
  }
  set.permitted = windows_for(in);
  set.work_class = in.order.work_class;
  set.work_order = in.order.work_order;
  set.date_code = job.date_code;
  set.place = in.order.place;
  set.parent = in.order.parent;
  set.limits = {verdict.units_a_station, most_stations(job.package(), verdict.engineering),
                verdict.numbers};
  for (std::size_t i = 0; i < std::size_t{in.order.cards} + in.order.spares; ++i) {
    const CardOrder order = order_of(in, job, i);
    Try<std::uint32_t> slots = slots_of(job.package(), order);
    if (!slots) {
      return Unexpected(std::move(slots).error());
    }
    registry::CardRequest card{order.station, job.units, *slots, i >= in.order.cards,
                               in.order.card_id};
    card.numbers = job.numbers;
    for (const format::OrdinalRange& span : job.spans.view()) {
      card.again.push_back({span.first, span.last - span.first + 1});
    }
    set.cards.push_back(std::move(card));
  }
  return set;
}

Try<std::vector<registry::SetRequest>> requests_of(const SetInput& in) {
  std::vector<registry::SetRequest> requests;
  for (const SetJob& job : in.jobs) {
    Try<registry::SetRequest> request = request_of(in, job);
    if (!request) {
      return Unexpected(std::move(request).error());
    }
    requests.push_back(std::move(*request));
  }
  return requests;
}

SetCard set_card(const SetInput& in, std::size_t index, std::vector<registry::Reserved> given) {
  SetCard card{index >= in.order.cards, {}, std::move(given)};
  for (std::size_t job = 0; job < in.jobs.size(); ++job) {
    const registry::Reserved& got = card.given[job];
    CardOrder order = order_of(in, in.jobs[job], index);
    order.card_id = got.card;
    order.enrolment = got.enrolment;
    order.serial = got.serial;
    order.first = got.range.first;
    order.register_entry.set(got.entry);
    card.orders.push_back(order);
  }
  return card;
}

// Boards on all cards of this package that the register knows, spares and unused ones too: nobody
// can tell which of them will be made.
Try<std::uint64_t> boards_on_cards(registry::Register& numbers, const package::Package& package) {
  std::uint64_t boards = 0;
  Try<void> done = numbers.each_allotment([&](const registry::AllotmentRow& row) {
    boards += row.manifest == package.manifest_digest ? row.units : 0;
  });
  return done ? Try<std::uint64_t>(boards) : Unexpected(std::move(done).error());
}

Try<void> check_deviations_of(registry::Register& numbers, const SetInput& in,
                              const package::Package& package, std::uint64_t more) {
  if (package.facts.deviations.count == 0) {
    return {};
  }
  if (Try<void> approved = package::check_deviations_approved(package); !approved) {
    return approved;
  }
  if (Try<void> running = package::check_deviations_at(package, in.now); !running) {
    return running;
  }
  Try<std::uint64_t> made = boards_on_cards(numbers, package);
  return made ? package::check_deviation_boards(package, *made, more)
              : Unexpected(std::move(made).error());
}

// `reserved`: the set's boards are in the register already.
Try<void> check_deviations(registry::Register& numbers, const SetInput& in, bool reserved) {
  for (const SetJob& job : in.jobs) {
    const std::uint64_t boards = (std::uint64_t{in.order.cards} + in.order.spares) * job.units;
    Try<void> within = check_deviations_of(numbers, in, job.package(), reserved ? 0 : boards);
    if (!within) {
      return within;
    }
  }
  return {};
}

MakeInput make_input(const SetInput& in, const SetCard& card) {
  MakeInput out{{}, in.root, in.trust, in.allot_key};
  for (std::size_t job = 0; job < in.jobs.size(); ++job) {
    out.jobs.push_back({in.jobs[job].judged, card.orders[job]});
  }
  return out;
}

// The cards of a set differ in numbers and stations only: what one can't be, none can. So the first
// is planned with its numbers reserved and not yet given; with `undo` they are not given at all.
Try<Rehearsed> reserve(registry::Register& numbers, const SetInput& in,
                       registry::Register::Answer answer) {
  Rehearsed out;
  const auto look =
      [&](const registry::Register::GivenCards& given) -> Try<registry::Register::Answer> {
    for (const std::vector<registry::Reserved>& each : given) {
      out.cards.push_back(set_card(in, out.cards.size(), each));
    }
    if (out.cards.empty()) {
      return answer;
    }
    Try<Card> planned = plan_card(make_input(in, out.cards.front()));
    if (!planned) {
      return Unexpected(std::move(planned).error());
    }
    out.first = std::move(*planned);
    return answer;
  };
  if (const Try<void> within = check_deviations(numbers, in, false); !within) {
    return Unexpected(within.error());
  }
  Try<std::vector<registry::SetRequest>> requests = requests_of(in);
  if (!requests) {
    return Unexpected(std::move(requests).error());
  }
  Try<registry::Register::GivenCards> given = numbers.reserve_together(*requests, look);
  return given ? Try<Rehearsed>(std::move(out)) : Unexpected(std::move(given).error());
}

// The newest allotment that was sealed here is in this register's history: else this is an older
// copy, whose next numbers may be on cards already.
Try<void> check_newest(registry::Register& numbers, Newest& newest) {
  Try<std::optional<registry::Evidence>> kept = newest.read();
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
    error.place.file = newest.path().string();
    error.hint = "it is an older copy: show it every card made since, cardseal serial meet";
    return Unexpected(std::move(error));
  }
  return {};
}

Try<void> make_one(registry::Register& numbers, const MakeInput& in, Try<Card> card, Newest& newest,
                   const SetCard& each, std::size_t index, const WriteCard& write) {
  Try<void> done = card ? sign_card(in, *card) : Unexpected(card.error());
  for (std::size_t job = 0; job < each.given.size() && done; ++job) {
    const SealedAllotment& sealed = card->allotments[job];
    const auto keep = [&](bool is_newest) -> Try<void> {
      Try<void> sound = check_newest(numbers, newest);
      return sound && is_newest ? newest.keep(sealed.text, sealed.signature) : std::move(sound);
    };
    done = numbers.seal(each.given[job], crypto::sha256(sealed.text), keep);
  }
  if (done) {
    done = write(index, each, *card);
  }
  for (std::size_t job = 0; job < each.given.size() && done; ++job) {
    done = numbers.written(each.given[job].allotment);
  }
  return done;
}

} // namespace

Try<std::optional<registry::Met>> meet_newest(registry::Register& numbers, const SetInput& in,
                                              Newest& newest) {
  Try<std::optional<registry::Evidence>> kept = newest.read();
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

Try<Rehearsed> rehearse_set(registry::Register& numbers, const SetInput& in) {
  return reserve(numbers, in, registry::Register::Answer::undo);
}

Try<void> make_set(registry::Register& numbers, const SetInput& in, Newest& newest,
                   const WriteCard& write) {
  Try<Rehearsed> set = reserve(numbers, in, registry::Register::Answer::give);
  if (!set) {
    return Unexpected(std::move(set).error());
  }
  // Once more with these counted: another card may have been made meanwhile.
  if (Try<void> within = check_deviations(numbers, in, true); !within) {
    return within;
  }
  for (std::size_t i = 0; i < set->cards.size(); ++i) {
    const SetCard& each = set->cards[i];
    const MakeInput input = make_input(in, each);
    Try<Card> planned = i == 0 ? Try<Card>(std::move(set->first)) : plan_card(input);
    Try<void> made = make_one(numbers, input, std::move(planned), newest, each, i, write);
    if (!made) {
      return made;
    }
  }
  return {};
}

} // namespace cardseal::card
