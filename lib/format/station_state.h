// What a station remembers between cards, in each of its two slots: fixed offsets, big-endian.
// The bulky parts (texts, withdrawals, marks) are read where they are needed, so that no station
// holds a whole slot in its memory. Layout and a worked example: SPEC-station.md.
//
// A slot that is being written starts with `state_open`; the first byte becomes `state_complete`
// last of all, after the rest was read back. A complete slot whose CRC is wrong is damaged, never
// merely old.
#pragma once

#include "format/fields.h"

namespace cardseal::format {

inline constexpr std::uint16_t state_layout = 1;
inline constexpr std::uint8_t state_complete = 0xA5;
inline constexpr std::uint8_t state_open = 0x00;
inline constexpr std::uint8_t state_erased = 0xFF; // as flash memory is before its first use

// Offsets and sizes within a slot, in bytes.
namespace state {
inline constexpr std::uint32_t head = 0;
inline constexpr std::uint32_t head_size = 256;
inline constexpr std::uint32_t kept = 256; // ascending by serial
inline constexpr std::uint32_t kept_size = 64;
inline constexpr std::uint32_t kept_count = 4;
inline constexpr std::uint32_t marks = 512;
inline constexpr std::uint32_t mark_size = 64;
inline constexpr std::uint32_t mark_count = 8;
inline constexpr std::uint32_t withdrawn = 1024; // in the order in which they were met
inline constexpr std::uint32_t withdrawn_size = 32;
inline constexpr std::uint32_t withdrawn_count = 32;
inline constexpr std::uint32_t withdrawn_free = 8; // what a list takes up leaves so many for texts
inline constexpr std::uint32_t root_text = 2048;
inline constexpr std::uint32_t trust_text = 10'240;
inline constexpr std::uint32_t text_limit = 8192; // each
inline constexpr std::uint32_t crc = 18'432;      // CRC-32/ISO-HDLC over all before it
inline constexpr std::uint32_t slot_size = 18'436;
inline constexpr std::uint32_t slot_stride = 20'480; // from slot to slot where they share one store
} // namespace state

struct StateHead {
  std::uint32_t generation = 1; // the higher of two complete slots counts
  Id station;
  Id model;
  std::uint32_t slots = 0; // bit 0 is slot 1
  std::uint32_t supply_low_mv = 0;
  std::uint32_t supply_high_mv = 0;
  std::uint32_t supply_step_mv = 1;
  bool own_supply_ok = false;
  bool no_log = false; // it can't write on a card, or must not
  std::uint32_t enrolment = 1;
  std::uint16_t root_size = 0;  // bytes of the text
  std::uint16_t trust_size = 0; // 0: no trust list met yet
  std::uint32_t trust_root_version = 0;
  std::uint32_t trust_sequence = 0;
  std::uint8_t kept_count = 0;
  std::uint8_t mark_count = 0;
  std::uint8_t withdrawn_count = 0;
  Digest owner{};
  Digest root_digest{};
  Digest trust_digest{};
  Digest log_head{}; // the run log's chain so far
};

struct StateKept { // an allotment this station has begun
  std::uint64_t serial = 0;
  std::uint64_t ordinals_used = 0;
  std::uint32_t units_started = 0;
  Digest text{}; // of the allotment
};

struct StateMark { // the newest package of a product this station worked with
  Id product;
  std::uint32_t epoch = 0;
  std::uint64_t sequence = 0;
  Digest manifest{};
};

using StateHeadBytes = std::array<std::uint8_t, state::head_size>;
using StateKeptBytes = std::array<std::uint8_t, state::kept_size>;
using StateMarkBytes = std::array<std::uint8_t, state::mark_size>;

// Every unused byte is zero. The loaders are false when bytes are not what the writers make; they
// tell damage that a CRC let through, and layouts of other versions.
void store_state_head(const StateHead& head, StateHeadBytes& out);
bool load_state_head(const StateHeadBytes& bytes, StateHead& out);
void store_state_kept(const StateKept& kept, StateKeptBytes& out);
bool load_state_kept(const StateKeptBytes& bytes, StateKept& out);
void store_state_mark(const StateMark& mark, StateMarkBytes& out);
bool load_state_mark(const StateMarkBytes& bytes, StateMark& out);

} // namespace cardseal::format
