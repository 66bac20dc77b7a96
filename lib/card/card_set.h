// The cards of one lot in one step, with their numbers from the register: all ranges reserved at
// once, and the first card rehearsed with them before that is durable; then card by card signed,
// noted as sealed, written, noted as written. What fails or dies after the reservation has spent
// its numbers.
#pragma once

#include <functional>

#include "card/evidence.h"
#include "card/make.h"
#include "register/register.h"

namespace cardseal::card {

struct SetOrder {
  std::vector<format::Id> stations; // cards are dealt to them in turn; spares after the others
  format::Id model;
  std::uint32_t cards = 1;
  std::uint32_t spares = 0; // further cards, each with numbers of its own
  format::WorkClass work_class = format::WorkClass::production;
  format::Name work_order;
  std::optional<format::CardId> card_id; // of the one card, when it is one
  std::string place;                     // of the cards in a lot order; empty: none
  std::string parent;                    // where boards that come back are from; empty: anywhere
};

// What each card of a set holds of one package.
struct SetJob {
  package::Judged judged;
  std::uint32_t units = 1;         // on each card
  std::uint32_t enabled_slots = 0; // 0: all that the release permits and the model has
  format::Maybe<format::Text<16>> date_code = {};
  format::Numbers numbers = format::Numbers::fresh;
  format::List<format::OrdinalRange, 16> spans = {}; // not of new numbers, of the one card

  const package::Package& package() const { return judged.package(); }
};

struct SetInput {
  std::vector<SetJob> jobs; // one at least
  const seal::OwnerRoot& root;
  const seal::OwnerTrust& trust;
  const crypto::SigningKey& allot_key;
  const SetOrder& order;
  Utc now; // of the desk: no card is made after a deviation of the package has ended
};

struct SetCard {
  bool spare = false;
  std::vector<CardOrder> orders; // of its jobs, with their numbers
  std::vector<registry::Reserved> given;
};

struct Rehearsed {
  std::vector<SetCard> cards;
  Card first; // not signed; the others differ in stations and numbers only
};

// Everything but reserving, signing and writing: what the cards would be, or why not.
Try<Rehearsed> rehearse_set(registry::Register& numbers, const SetInput& input);

// Before a set is made: shows the newest sealed allotment to the register; one that came back from
// a backup gives up its numbers. None when nothing is kept.
Try<std::optional<registry::Met>> meet_newest(registry::Register& numbers, const SetInput& input,
                                              Newest& newest);

// `write` puts card `index` in its place, whole; it is called when the card's text is sealed in the
// register. Refuses to seal in a register that lacks what `newest` keeps.
using WriteCard = std::function<Try<void>(std::size_t index, const SetCard&, const Card&)>;
Try<void> make_set(registry::Register& numbers, const SetInput& input, Newest& newest,
                   const WriteCard& write);

} // namespace cardseal::card
