// What is stated for one card. With an entry of a register the numbers come from there
// (card_set.h); without one, whoever states a range answers for it being given once.
#pragma once

#include "format/card_texts.h"

namespace cardseal::card {

struct CardOrder {
  format::CardId card_id{};
  format::Id station; // the one that may work the card
  format::Id model;   // its model
  std::uint32_t enrolment = 1;
  std::uint64_t serial = 1; // of the allotment, rising for each station
  std::uint64_t first = 0;  // ordinal
  format::Numbers numbers = format::Numbers::fresh;
  format::List<format::OrdinalRange, 16> spans; // not of new numbers: those that the boards have
  std::uint32_t units = 1;                      // boards, and numbers when the release has serials
  format::WorkClass work_class = format::WorkClass::production;
  format::Name work_order;
  format::Maybe<format::Text<16>> date_code;
  std::uint32_t enabled_slots = 0; // 0: all that the release permits and the model has
  format::Maybe<format::Digest> register_entry;
};

} // namespace cardseal::card
