// The way back: what a station writes to the card about each board, into the signed log extent and
// nowhere else. Nothing is ever decided by reading it; where the next record goes follows from the
// station's memory and from its note of the last record (format/SPEC-station.md).
//
// Each record is in the note, synced, before it goes to the card; `open` writes the noted record
// once more. So a cut at any moment spoils at most the record being written, and that one is whole
// again when the card is in next, unless another card came between: there is one newest note only.
//
// Where the station writes no log (format::StateHead::no_log) all calls do all else: slots that are
// stopped, tries, the units taken; neither the note nor the card is touched, and a log is never
// full.
//
// Faults besides those of Station: 611 no room for another cycle or try; 612 the note or the card
// took no record, and nothing more is written until `open`; position of both is a sector of the
// card. When only the card failed, the note has the record and `open` writes it: the log will then
// say what was noted. Keep the board of that slot apart until the log is reconciled. 613 a slot
// that the job stops after so many boards in a row that failed; position is the mask of such slots.
#pragma once

#include "format/log_note.h"
#include "loader/station.h"

namespace cardseal::loader {

// Writing to the card. `write` may be cut anywhere; what `sync` has returned for stays.
struct SectorWriter {
  void* context = nullptr;
  bool (*write)(void* context, std::uint32_t lba, ByteView sector) = nullptr;
  bool (*sync)(void* context) = nullptr;
};

// Two cells of format::log_note_size bytes in the station that outlive power and card.
struct NoteStorage {
  void* context = nullptr;
  bool (*read)(void* context, unsigned cell, ByteSpan out) = nullptr;
  bool (*write)(void* context, unsigned cell, ByteView bytes) = nullptr;
  bool (*sync)(void* context) = nullptr;
};

struct Entered { // by the operator, or set on the station; claimed, may be empty
  format::LogWord date, shift, fixture, reel, panel;
};

struct UnitEnd {
  std::uint8_t slot = 1; // begun in this cycle
  format::LogWord outcome;
  std::uint16_t supply_mv = 0; // as measured
  std::uint32_t duration_ms = 0;
};

class RunLog {
public:
  // All must outlive the log.
  RunLog(Station& station, const SectorWriter& card, const NoteStorage& notes,
         const trust::CryptoTable& crypto)
      : station_(station), card_(card), notes_(notes), crypto_(crypto) {}

  // After each Station::admit that said `done`, or 395: then the noted record is written once more
  // and nothing else can be. 106: a record can't carry what was entered; nothing was written.
  Outcome open(const Entered& entered);

  // Looks whether the log has room, takes the units as Station::begin_cycle does, and writes a
  // BEGUN record for each slot. Only after `done` may a byte go to a board.
  Outcome begin_cycle(std::uint32_t slot_mask, std::uint16_t supply_mv,
                      std::uint64_t& first_ordinal);
  // Likewise as Station::begin_boards does.
  Outcome begin_boards(std::uint32_t slot_mask, std::uint16_t supply_mv,
                       std::span<const std::uint64_t> ordinals);
  // Another try of a board in the same cycle, with the same ordinal, after a try that failed. 106:
  // no such try, or the board is good.
  Outcome begin_again(std::uint8_t slot, std::uint16_t supply_mv);
  // What became of a try that was begun. 106: no such try, or the outcome's form.
  Outcome end(const UnitEnd& end);

  std::uint32_t session() const { return session_; }
  // Bit 0 is slot 1. Until `open`: whoever puts the card in again has looked at the slot.
  std::uint32_t stopped_slots() const;

private:
  bool writes() const { return !station_.memory().head().no_log; }
  bool find_note(format::LogNote& note);
  bool write_note(format::LogNote& note);
  Outcome write_card(const format::LogNote& note);
  format::LogRecord record_of(std::uint8_t slot, const format::LogWord& outcome) const;
  format::LogRecord probe() const;
  Outcome put(std::uint8_t slot, const format::LogWord& outcome, std::uint16_t supply_mv,
              std::uint32_t duration_ms);
  std::uint64_t chained(std::uint64_t before, format::LogSectorView sector) const;
  Outcome room_for(std::uint32_t records) const;
  Outcome room_for_cycle(std::uint32_t slot_mask) const;
  Outcome start_cycle(std::uint32_t slot_mask, std::uint16_t supply_mv);

  Station& station_;
  const SectorWriter& card_;
  const NoteStorage& notes_;
  const trust::CryptoTable& crypto_;
  Entered entered_;
  bool open_ = false;
  unsigned cell_ = 1;            // where the newest note stands
  std::uint32_t generation_ = 0; // its own
  std::uint64_t chain_ = 0;
  std::uint32_t session_ = 1;
  std::uint32_t cycle_ = 0;
  std::uint32_t next_ = 0;                   // record
  std::uint32_t slots_ = 0;                  // of the cycle
  std::uint32_t trying_ = 0;                 // those of them that are begun and not ended
  std::uint32_t failed_ = 0;                 // those whose last try failed
  std::array<std::uint64_t, 32> ordinals_{}; // of the board in each slot
  std::array<std::uint8_t, 32> tries_{};
  std::array<std::uint8_t, 32> in_row_{}; // boards that failed in the cycles before, up to 99
};

// Beside the arena; it stands at most 2.7 KiB deep on x86-64, besides what the call backs need.
static_assert(sizeof(RunLog) <= 576);

} // namespace cardseal::loader
