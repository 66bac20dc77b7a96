#include "loader/station_memory.h"

#include "base/crc.h"
#include "loader/need.h"
#include "trust/signatures.h"
#include "trust/withdrawal_rules.h"

namespace cardseal::loader {
namespace {

namespace state = format::state;

constexpr std::size_t chunk_size = 512; // divides state::crc
using Chunk = std::array<std::uint8_t, chunk_size>;
static_assert(state::crc % chunk_size == 0);

const CrcModel& state_crc() {
  return *find_crc("CRC-32/ISO-HDLC");
}

bool read_crc(const StateStorage& storage, unsigned slot, std::uint32_t& out) {
  std::array<std::uint8_t, 4> bytes{};
  const bool good = storage.read(storage.context, slot, state::crc, bytes);
  out = load_be32(bytes.data());
  return good;
}

// The CRC of what a slot holds, its first byte taken as complete; false when it can't be read.
bool crc_of_slot(const StateStorage& storage, unsigned slot, std::uint32_t& out) {
  Crc running(state_crc());
  for (std::uint32_t at = 0; at < state::crc; at += chunk_size) {
    Chunk chunk{};
    if (!storage.read(storage.context, slot, at, chunk)) {
      return false;
    }
    if (at == 0) {
      chunk[0] = format::state_complete;
    }
    running.update(chunk);
  }
  out = running.value();
  return true;
}

// Lays what of `bytes` falls into the chunk at `chunk_at` over it.
void overlay(std::uint32_t chunk_at, ByteSpan chunk, std::uint32_t offset, ByteView bytes) {
  for (std::size_t i = 0; i < chunk.size(); ++i) {
    const std::size_t at = chunk_at + i;
    if (at >= offset && at - offset < bytes.size()) {
      chunk[i] = bytes[at - offset];
    }
  }
}

// What lies behind a text that became shorter is cleared, so that a slot's bytes follow from what
// it means.
void clear_tail(std::uint32_t chunk_at, ByteSpan chunk, std::size_t from, std::size_t to) {
  for (std::size_t i = 0; i < chunk.size(); ++i) {
    if (chunk_at + i >= from && chunk_at + i < to) {
      chunk[i] = 0;
    }
  }
}

// The table of stops as bytes; the place of one in it.
ByteSpan stop_at(ByteSpan stops, std::uint32_t index) {
  return stops.subspan(std::size_t{index} * state::withdrawn_size, state::withdrawn_size);
}

// The bit of the one of the first `count` stops that is `mark`; 0 when none is.
std::uint32_t bit_of(ByteView stops, std::uint32_t count, const format::Digest& mark) {
  for (std::uint32_t i = 0; i < count; ++i) {
    if (equal(stops.subspan(std::size_t{i} * state::withdrawn_size, mark.size()), mark)) {
      return std::uint32_t{1} << i;
    }
  }
  return 0;
}

// So many stops that the list holds itself may stand in the table beside the others.
std::uint32_t room_for_held(std::uint32_t count, std::uint32_t held) {
  std::uint32_t others = 0;
  for (std::uint32_t i = 0; i < count; ++i) {
    others += (held >> i & 1) == 0 ? 1 : 0;
  }
  constexpr std::uint32_t most = state::withdrawn_count - state::withdrawn_free;
  return others < most ? most - others : 0;
}

// Closes the table over those of `held` that have no room; `room` becomes what is left of it. How
// many stay is returned, and what is behind them is zero.
std::uint8_t drop_held(ByteSpan stops, std::uint32_t count, std::uint32_t held,
                       std::uint32_t& room) {
  std::uint8_t kept = 0;
  for (std::uint32_t i = 0; i < count; ++i) {
    const bool is_held = (held >> i & 1) != 0;
    if (is_held && room == 0) {
      continue;
    }
    room -= is_held ? 1 : 0;
    if (kept != i) {
      copy(stop_at(stops, kept), stop_at(stops, i));
    }
    ++kept;
  }
  fill(stops.subspan(std::size_t{kept} * state::withdrawn_size), 0);
  return kept;
}

bool set_marker(const StateStorage& storage, unsigned slot, std::uint8_t marker) {
  std::array<std::uint8_t, 1> found{};
  const std::array<std::uint8_t, 1> wanted{marker};
  return storage.write(storage.context, slot, state::head, wanted) &&
         storage.sync(storage.context) && storage.read(storage.context, slot, state::head, found) &&
         found == wanted;
}

} // namespace

Outcome StationMemory::load_slot(unsigned slot, bool& complete, format::StateHead& head) const {
  format::StateHeadBytes bytes{};
  complete = false;
  const bool readable = storage_->read(storage_->context, slot, state::head, bytes);
  if (readable && (bytes[0] == format::state_open || bytes[0] == format::state_erased)) {
    return done;
  }
  std::uint32_t expected = 0;
  std::uint32_t found = 0;
  const bool whole = readable && read_crc(*storage_, slot, expected) &&
                     crc_of_slot(*storage_, slot, found) && found == expected;
  complete = format::load_state_head(bytes, head) && (whole || switched_off(Fault::state_damaged));
  return need(complete, Fault::state_damaged, slot);
}

Outcome StationMemory::load() {
  std::array<format::StateHead, 2> heads;
  std::array<bool, 2> complete{};
  for (unsigned slot = 0; slot < 2; ++slot) {
    const Outcome outcome = load_slot(slot, complete[slot], heads[slot]);
    if (!outcome.ok()) {
      return outcome;
    }
  }
  const bool both = complete[0] && complete[1];
  slot_ = complete[1] && (!complete[0] || heads[1].generation > heads[0].generation) ? 1 : 0;
  head_ = heads[slot_];
  return trust::Checks()
      .need(complete[0] || complete[1], Fault::state_missing)
      .need(!both || heads[0].generation != heads[1].generation, Fault::state_damaged)
      .outcome();
}

trust::StationLimits StationMemory::limits() const {
  return {head_.model,          head_.slots,          head_.supply_low_mv,
          head_.supply_high_mv, head_.supply_step_mv, head_.own_supply_ok};
}

Outcome StationMemory::read(std::uint32_t offset, ByteSpan out) const {
  return need(storage_->read(storage_->context, slot_, offset, out), Fault::state_damaged);
}

Outcome StationMemory::read_root(const trust::CryptoTable& crypto, ByteSpan buffer,
                                 ByteSpan& text) const {
  text = buffer.first(head_.root_size);
  const Outcome outcome = read(state::root_text, text);
  return outcome.ok() ? need(trust::digest_of(crypto, text) == head_.root_digest,
                             Fault::state_damaged, state::root_text)
                      : outcome;
}

Outcome StationMemory::read_trust(const trust::CryptoTable& crypto, ByteSpan buffer,
                                  ByteSpan& text) const {
  text = buffer.first(head_.trust_size);
  const Outcome outcome = read(state::trust_text, text);
  return outcome.ok() ? need(trust::digest_of(crypto, text) == head_.trust_digest,
                             Fault::state_damaged, state::trust_text)
                      : outcome;
}

Outcome StationMemory::read_kept(KeptAllotments& kept) const {
  kept.count = 0;
  for (std::uint32_t i = 0; i < head_.kept_count; ++i) {
    format::StateKeptBytes bytes{};
    format::StateKept one;
    const Outcome outcome = read(state::kept + i * state::kept_size, bytes);
    if (!outcome.ok() || !format::load_state_kept(bytes, one)) {
      return outcome.ok() ? refuse(Fault::state_damaged, state::kept) : outcome;
    }
    kept.add({one.serial, one.ordinals_used, one.units_started, one.text});
  }
  return done;
}

Outcome StationMemory::find_mark(const format::Id& product, std::uint8_t& index,
                                 trust::ProductMark& mark) const {
  for (index = 0; index < head_.mark_count; ++index) {
    format::StateMarkBytes bytes{};
    format::StateMark one;
    const Outcome outcome = read(state::marks + index * state::mark_size, bytes);
    if (!outcome.ok() || !format::load_state_mark(bytes, one)) {
      return outcome.ok() ? refuse(Fault::state_damaged, state::marks) : outcome;
    }
    if (one.product == product) {
      mark = {one.product, one.epoch, one.sequence, one.manifest};
      return done;
    }
  }
  return done;
}

Outcome StationMemory::is_withdrawn(const format::Digest& mark, bool& withdrawn) const {
  withdrawn = false;
  for (std::uint32_t i = 0; i < head_.withdrawn_count && !withdrawn; ++i) {
    format::Digest one{};
    const Outcome outcome = read(state::withdrawn + i * state::withdrawn_size, one);
    if (!outcome.ok()) {
      return outcome;
    }
    withdrawn = one == mark;
  }
  return done;
}

Outcome StationMemory::stop_keys(const trust::CryptoTable& crypto, format::TrustList& list) const {
  for (const format::TrustedKey& key : list.keys.view()) {
    bool withdrawn = false;
    const Outcome outcome =
        is_withdrawn(trust::mark_of(crypto, {trust::StopKind::key, key.key}), withdrawn);
    if (!outcome.ok()) {
      return outcome;
    }
    if (withdrawn) {
      trust::stop_key(list, key.key);
    }
  }
  return done;
}

Outcome StationMemory::keep_root(const format::Digest& digest, ByteView text) {
  const std::array<Patch, 1> patches{{{state::root_text, text}}};
  format::StateHead head = head_;
  head.root_size = static_cast<std::uint16_t>(text.size());
  head.root_digest = digest;
  return commit(head, patches);
}

Outcome StationMemory::keep_withdrawn(const format::Digest& mark) {
  bool known = false;
  const Outcome outcome = is_withdrawn(mark, known);
  if (!outcome.ok() || known) {
    return outcome;
  }
  format::StateHead head = head_;
  if (head.withdrawn_count == state::withdrawn_count) {
    return refuse(Fault::state_room);
  }
  const std::uint32_t at = head.withdrawn_count * state::withdrawn_size;
  const std::array<Patch, 1> patches{{{state::withdrawn + at, mark}}};
  ++head.withdrawn_count;
  return commit(head, patches);
}

Outcome StationMemory::read_stops(StopTable& stops) const {
  return read(state::withdrawn, stops);
}

std::uint32_t StationMemory::held_by(const trust::CryptoTable& crypto,
                                     const format::TrustList& list, const StopTable& stops) const {
  std::uint32_t held = 0;
  for (const format::Digest& manifest : list.withdrawn.view()) {
    held |= bit_of(stops, head_.withdrawn_count,
                   trust::mark_of(crypto, {trust::StopKind::package, manifest}));
  }
  for (const format::TrustedKey& key : list.keys.view()) {
    if (key.state == format::KeyState::revoked) {
      held |= bit_of(stops, head_.withdrawn_count,
                     trust::mark_of(crypto, {trust::StopKind::key, key.key}));
    }
  }
  return held;
}

// The stops anew, in the order in which they were met: all that the list does not hold itself, and
// of what it holds as much as leaves room for stops to come.
Outcome StationMemory::keep_trust(const trust::CryptoTable& crypto, const format::TrustList& list,
                                  const format::Digest& digest, ByteView text) {
  StopTable stops{};
  const Outcome outcome = read_stops(stops);
  if (!outcome.ok()) {
    return outcome;
  }
  format::StateHead head = head_;
  const std::uint32_t held = held_by(crypto, list, stops);
  std::uint32_t room = room_for_held(head.withdrawn_count, held);
  head.withdrawn_count = drop_held(stops, head.withdrawn_count, held, room);
  for (const format::Digest& manifest : list.withdrawn.view()) {
    const format::Digest mark = trust::mark_of(crypto, {trust::StopKind::package, manifest});
    if (room > 0 && bit_of(stops, head.withdrawn_count, mark) == 0) {
      copy(stop_at(stops, head.withdrawn_count++), mark);
      --room;
    }
  }
  const std::array<Patch, 2> patches{{{state::withdrawn, stops}, {state::trust_text, text}}};
  head.trust_size = static_cast<std::uint16_t>(text.size());
  head.trust_root_version = list.root_version;
  head.trust_sequence = list.sequence;
  head.trust_digest = digest;
  return commit(head, patches);
}

Outcome StationMemory::keep_progress(const KeptAllotments& kept, std::uint8_t mark_index,
                                     const trust::ProductMark& mark) {
  if (mark_index >= state::mark_count) {
    return refuse(Fault::state_room);
  }
  format::StateHead head = head_;
  std::array<format::StateKeptBytes, state::kept_count> kept_bytes{};
  for (std::uint16_t i = 0; i < kept.count; ++i) {
    const trust::KeptAllotment& one = kept.items[i];
    format::store_state_kept({one.serial, one.ordinals_used, one.units_started, one.text},
                             kept_bytes[i]);
  }
  format::StateMarkBytes mark_bytes{};
  format::store_state_mark({mark.product, mark.epoch, mark.sequence, mark.manifest}, mark_bytes);
  head.kept_count = static_cast<std::uint8_t>(kept.count);
  head.mark_count =
      mark_index < head.mark_count ? head.mark_count : static_cast<std::uint8_t>(mark_index + 1);
  const std::array<Patch, 5> patches{{
      {state::kept, kept_bytes[0]},
      {state::kept + 1 * state::kept_size, kept_bytes[1]},
      {state::kept + 2 * state::kept_size, kept_bytes[2]},
      {state::kept + 3 * state::kept_size, kept_bytes[3]},
      {state::marks + mark_index * state::mark_size, mark_bytes},
  }};
  return commit(head, patches);
}

Outcome StationMemory::commit(const format::StateHead& head, Patches patches) {
  format::StateHead next = head;
  next.generation = head_.generation + 1;
  const Outcome outcome = write_slot(*storage_, &slot_, 1 - slot_, next, patches);
  if (outcome.ok()) {
    slot_ = 1 - slot_;
    head_ = next;
  }
  return outcome;
}

// Without `from`, everything that no patch gives is zero.
Outcome StationMemory::write_slot(const StateStorage& storage, const unsigned* from, unsigned to,
                                  const format::StateHead& head, Patches patches) {
  format::StateHeadBytes head_bytes{};
  format::store_state_head(head, head_bytes);
  Crc old_crc(state_crc());
  Crc new_crc(state_crc());
  bool good = set_marker(storage, to, format::state_open);
  for (std::uint32_t at = 0; good && at < state::crc; at += chunk_size) {
    Chunk chunk{};
    if (from != nullptr && !storage.read(storage.context, *from, at, chunk)) {
      return refuse(Fault::state_damaged, at);
    }
    old_crc.update(chunk);
    overlay(at, chunk, state::head, head_bytes);
    for (const Patch& patch : patches) {
      overlay(at, chunk, patch.offset, patch.bytes);
    }
    clear_tail(at, chunk, state::root_text + head.root_size, state::trust_text);
    clear_tail(at, chunk, state::trust_text + head.trust_size, state::crc);
    new_crc.update(chunk);
    if (at == 0) {
      chunk[0] = format::state_open;
    }
    good = storage.write(storage.context, to, at, chunk);
  }
  std::uint32_t kept_crc = old_crc.value();
  if (good && from != nullptr &&
      (!read_crc(storage, *from, kept_crc) || kept_crc != old_crc.value())) {
    return refuse(Fault::state_damaged); // it was whole when it was loaded
  }
  std::array<std::uint8_t, 4> crc_bytes{};
  store_be32(crc_bytes.data(), new_crc.value());
  std::uint32_t found = 0;
  std::uint32_t stored = 0;
  good = good && storage.write(storage.context, to, state::crc, crc_bytes) &&
         storage.sync(storage.context) && crc_of_slot(storage, to, found) &&
         read_crc(storage, to, stored) && found == new_crc.value() && stored == found &&
         set_marker(storage, to, format::state_complete);
  return need(good, Fault::state_write);
}

Outcome StationMemory::create(const StateStorage& storage, const format::StateHead& head,
                              ByteView root_text) {
  StationMemory memory(storage);
  const Outcome outcome = memory.load();
  if (outcome.fault != Fault::state_missing) {
    return refuse(Fault::state_write); // there is a memory already, or the ruin of one
  }
  const std::array<Patch, 1> patches{{{state::root_text, root_text}}};
  return write_slot(storage, nullptr, 0, head, patches);
}

} // namespace cardseal::loader
