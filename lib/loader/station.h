// A station at work with a card. Everything a station does with a card goes through here: admission
// (the order is the order of the functions in admit.cpp), the image block by block, the bytes of a
// unit's serial, and the ordinals taken before a cycle begins.
//
// No unverified byte is handed out; the card is never written here (run_log.h writes its log); the
// station's memory is written when a newer root, a newer trust list or a withdrawal is met and when
// a cycle begins. A refused card leaves nothing behind but those, and the next card starts anew.
#pragma once

#include "format/root_chain.h"
#include "loader/arena.h"
#include "trust/withdrawal_rules.h"
#include "unit/unit.h"

namespace cardseal::loader {

class Station {
public:
  // All four must outlive the station.
  Station(Arena& arena, const SectorReader& card, const StateStorage& storage,
          const trust::CryptoTable& crypto)
      : arena_(arena), card_(card), crypto_(crypto), memory_(storage) {}

  // `done`, or the first reason against this card; `item` counts what the position can't tell: the
  // sign-off, signature or allotment, or the file in the order of the card index (packages,
  // allotments, others), from 0. A card may hold several jobs for one station, in the order of its
  // index: `choice` counts them from 0; past the last one it is 509. Any of them may be chosen at
  // any time, whatever became of the others.
  Outcome admit(std::uint16_t choice = 0);
  bool admitted() const { return admitted_; }
  // The last admit() said 395: the card is this station's, and every unit of it was started. What
  // is known of the job still holds.
  bool finished() const { return finished_; }
  // This station's jobs on the card, once admit() got as far as to count them; before, 0.
  std::uint16_t jobs() const { return jobs_; }

  const StationMemory& memory() const { return memory_; } // after admit got past 601 and 602

  // The rest is for after a successful admit().
  const Job& job() const { return arena_.phase.job; }
  std::uint32_t units_left() const;

  // The image from its first block. Called for every cycle.
  Outcome start_image();
  // The next block in `block`, which stays valid until the next call of anything here; empty at the
  // end. After a fault (510, 50x) the image is over and nothing may be used.
  Outcome next_block(ByteView& block);

  // Of an ordinal within the allotment (391 otherwise); `placement` counts from 0.
  Outcome unit_text(std::uint64_t ordinal, unit::UnitText& text) const;
  Outcome unit_bytes(std::uint64_t ordinal, std::size_t placement, unit::UnitBytes& bytes) const;

  // Which of the allotment's ordinals a board has: by the bytes of a placement, or by its label's
  // text. 106: no serial of this scheme; 614: one that this card does not name, so not a board to
  // be worked on with it.
  Outcome ordinal_on_board(std::size_t placement, ByteView bytes, std::uint64_t& ordinal) const;
  Outcome ordinal_on_label(std::string_view text, std::uint64_t& ordinal) const;

  // Takes one unit for every slot of `slot_mask` (bit 0 is slot 1), and the ordinals from
  // `first_ordinal` on when the release has serials. Memory holds this before it returns `done`;
  // what was taken is spent, whatever becomes of the boards. 394: a slot that is not enabled; 395:
  // fewer units left; 391: the card's boards have numbers already, see begin_boards.
  Outcome begin_cycle(std::uint32_t slot_mask, std::uint64_t& first_ordinal);
  // Likewise for boards that have numbers: an ordinal for each slot of `slot_mask`, the lowest slot
  // first. 614: one that is not the card's, or one twice; position has their slots, as a mask. 391:
  // the card gives new numbers, or there is not one for each slot.
  Outcome begin_boards(std::uint32_t slot_mask, std::span<const std::uint64_t> ordinals);

private:
  struct Chosen { // copied out of the card index before the job takes its place
    format::PackageOnCard package;
    format::FileOnCard allotment;
    format::CardId card_id{};
    format::LogExtent log;
  };

  Outcome find_root(trust::RootView& root);
  Outcome walk_roots(const trust::RootView& root);
  Outcome judge_root(const trust::RootView& root, const format::Source& source,
                     const format::RootExtents& extents);
  Outcome judge_list(const trust::RootView& root);
  Outcome judge_card_list(const trust::RootView& root, bool& newer);
  Outcome recall_list(const trust::RootView& root);
  Outcome judge_withdrawals(const trust::RootView& root);
  Outcome judge_withdrawal(const trust::RootView& root, std::string_view path, bool& there);
  Outcome keep_stop(const trust::Stop& stop, const format::TrustedKey* signer);
  Outcome judge_index(const trust::RootView& root);
  Outcome judge_log();
  Outcome judge_files();
  Outcome judge_file(std::string_view path, std::uint32_t size, const format::Digest& digest,
                     std::uint16_t item);
  Outcome choose(std::uint16_t choice, Chosen& chosen);
  bool find_package(const format::Digest& manifest, format::PackageOnCard& package) const;
  Outcome read_allotment(std::uint16_t index, format::Allotment& allotment);
  Outcome judge_job(const trust::RootView& root, const Chosen& chosen);
  Outcome judge_past();
  Outcome judge_work(const trust::RootView& root, const Chosen& chosen);
  Outcome judge_units() const;
  bool is_on_card(std::uint64_t ordinal) const;
  std::uint32_t other_boards(std::uint32_t slot_mask,
                             std::span<const std::uint64_t> ordinals) const;
  Outcome take_units(std::uint32_t slot_mask);
  Outcome read_whole(std::string_view path, ByteSpan buffer, ByteSpan& text);

  Arena& arena_;
  const SectorReader& card_;
  const trust::CryptoTable& crypto_;
  StationMemory memory_;
  bool admitted_ = false;
  bool finished_ = false;
  bool streaming_ = false;
  std::uint16_t jobs_ = 0;
};

} // namespace cardseal::loader
