// A station's memory in its two slots (format/station_state.h): loaded, asked, and moved on by
// writing the other slot. Whoever acts on a change waits for `commit`: it returns `done` only after
// the new slot was synced, read back and completed.
//
// Faults: 601 neither slot was ever completed; 602 a completed slot is not whole, or the store
// can't be read (which of the two is newer can't be told then, so nothing goes on); 603 writing or
// reading back failed: the old memory still holds; 604 no room.
#pragma once

#include "base/outcome.h"
#include "format/station_state.h"
#include "loader/host.h"
#include "trust/job_rules.h"
#include "trust/manifest_rules.h"

namespace cardseal::loader {

using KeptAllotments = format::List<trust::KeptAllotment, trust::kept_allotments>;

class StationMemory {
public:
  explicit StationMemory(const StateStorage& storage) : storage_(&storage) {}

  Outcome load();

  // The rest is for after load().
  const format::StateHead& head() const { return head_; }
  trust::StationLimits limits() const;

  // Exact texts; `text` becomes the part of `buffer` (8192 bytes) that holds it. 602 when the bytes
  // do not have the digest that the head names.
  Outcome read_root(const trust::CryptoTable& crypto, ByteSpan buffer, ByteSpan& text) const;
  Outcome read_trust(const trust::CryptoTable& crypto, ByteSpan buffer, ByteSpan& text) const;

  Outcome read_kept(KeptAllotments& kept) const;
  // `index` is where the product's mark stands, or the number of marks when there is none.
  Outcome find_mark(const format::Id& product, std::uint8_t& index, trust::ProductMark& mark) const;
  // `mark` is what trust::mark_of makes of a manifest, a public key or an allotment's text.
  Outcome is_withdrawn(const format::Digest& mark, bool& withdrawn) const;
  // No further stop can be kept, and one may have been met that could not be.
  bool stops_full() const { return head_.withdrawn_count == format::state::withdrawn_count; }
  // Every key that was withdrawn becomes a revoked one on `list`.
  Outcome stop_keys(const trust::CryptoTable& crypto, format::TrustList& list) const;

  // Takes a judged root that follows the one kept.
  Outcome keep_root(const format::Digest& digest, ByteView text);

  // Takes a judged, newer trust list: its text, and its withdrawals, for good as far as there is
  // room. A list is never refused for want of room: what it withdraws itself needs none, since the
  // list in force is always looked at too, and makes room for stops that came as texts.
  Outcome keep_trust(const trust::CryptoTable& crypto, const format::TrustList& list,
                     const format::Digest& digest, ByteView text);

  // Takes the mark of what a judged withdrawal stops, for good; writes nothing when it is known.
  Outcome keep_withdrawn(const format::Digest& mark);

  // One step of a run: floors and used counters, all or nothing. `mark_index` as find_mark gave it.
  Outcome keep_progress(const KeptAllotments& kept, std::uint8_t mark_index,
                        const trust::ProductMark& mark);

  // The first memory of a station, in slot 0; both slots must be open or erased.
  static Outcome create(const StateStorage& storage, const format::StateHead& head,
                        ByteView root_text);

private:
  struct Patch { // bytes of the new slot that differ from the current one
    std::uint32_t offset = 0;
    ByteView bytes;
  };
  using Patches = std::span<const Patch>;

  using StopTable = std::array<std::uint8_t, format::state::withdrawn_count * trust::digest_size>;

  Outcome read_stops(StopTable& stops) const;
  // Of the stops kept, bit 0 for the first: those that `list` holds itself.
  std::uint32_t held_by(const trust::CryptoTable& crypto, const format::TrustList& list,
                        const StopTable& stops) const;
  Outcome load_slot(unsigned slot, bool& complete, format::StateHead& head) const;
  Outcome read(std::uint32_t offset, ByteSpan out) const;
  Outcome commit(const format::StateHead& head, Patches patches);
  static Outcome write_slot(const StateStorage& storage, const unsigned* from, unsigned to,
                            const format::StateHead& head, Patches patches);

  const StateStorage* storage_;
  unsigned slot_ = 0;
  format::StateHead head_;
};

} // namespace cardseal::loader
