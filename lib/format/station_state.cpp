#include "format/station_state.h"

namespace cardseal::format {
namespace {

constexpr std::string_view magic = "CSSTATE";

// Offsets within the head.
namespace at {
constexpr std::size_t magic = 1;
constexpr std::size_t layout = 8;
constexpr std::size_t generation = 12;
constexpr std::size_t station = 16;
constexpr std::size_t model = 33;
constexpr std::size_t own_supply = 50;
constexpr std::size_t no_log = 51;
constexpr std::size_t slots = 52;
constexpr std::size_t supply_low = 56;
constexpr std::size_t supply_high = 60;
constexpr std::size_t supply_step = 64;
constexpr std::size_t enrolment = 68;
constexpr std::size_t root_size = 72;
constexpr std::size_t trust_size = 74;
constexpr std::size_t trust_root_version = 76;
constexpr std::size_t trust_sequence = 80;
constexpr std::size_t kept_count = 84;
constexpr std::size_t mark_count = 85;
constexpr std::size_t withdrawn_count = 86;
constexpr std::size_t owner = 96;
constexpr std::size_t root_digest = 128;
constexpr std::size_t trust_digest = 160;
constexpr std::size_t log_head = 192;
} // namespace at

// One byte of length, then the characters, filled up with zeros.
void store_id(const Id& id, std::uint8_t* to) {
  to[0] = id.size;
  copy({to + 1, id.bytes.size()}, bytes_of({id.bytes.data(), id.bytes.size()}));
}

bool load_id(const std::uint8_t* from, Id& out) {
  return from[0] <= out.bytes.size() && out.set(text_of({from + 1, from[0]}));
}

void store_digest(const Digest& digest, std::uint8_t* to) {
  copy({to, digest.size()}, digest);
}

void load_digest(const std::uint8_t* from, Digest& out) {
  copy(out, {from, out.size()});
}

// Whatever was loaded must store to the same bytes again.
template <class Bytes, class T>
bool stores_back(const T& value, const Bytes& bytes, void (*store)(const T&, Bytes&)) {
  Bytes again{};
  store(value, again);
  return equal(again, bytes);
}

} // namespace

void store_state_head(const StateHead& head, StateHeadBytes& out) {
  std::uint8_t* to = out.data();
  fill(out, 0);
  to[0] = state_complete;
  copy({to + at::magic, magic.size()}, bytes_of(magic));
  store_be16(to + at::layout, state_layout);
  store_be32(to + at::generation, head.generation);
  store_id(head.station, to + at::station);
  store_id(head.model, to + at::model);
  to[at::own_supply] = head.own_supply_ok ? 1 : 0;
  to[at::no_log] = head.no_log ? 1 : 0;
  store_be32(to + at::slots, head.slots);
  store_be32(to + at::supply_low, head.supply_low_mv);
  store_be32(to + at::supply_high, head.supply_high_mv);
  store_be32(to + at::supply_step, head.supply_step_mv);
  store_be32(to + at::enrolment, head.enrolment);
  store_be16(to + at::root_size, head.root_size);
  store_be16(to + at::trust_size, head.trust_size);
  store_be32(to + at::trust_root_version, head.trust_root_version);
  store_be32(to + at::trust_sequence, head.trust_sequence);
  to[at::kept_count] = head.kept_count;
  to[at::mark_count] = head.mark_count;
  to[at::withdrawn_count] = head.withdrawn_count;
  store_digest(head.owner, to + at::owner);
  store_digest(head.root_digest, to + at::root_digest);
  store_digest(head.trust_digest, to + at::trust_digest);
  store_digest(head.log_head, to + at::log_head);
}

bool load_state_head(const StateHeadBytes& bytes, StateHead& out) {
  const std::uint8_t* from = bytes.data();
  out.generation = load_be32(from + at::generation);
  const bool ids = load_id(from + at::station, out.station) && load_id(from + at::model, out.model);
  out.own_supply_ok = from[at::own_supply] != 0;
  out.no_log = from[at::no_log] != 0;
  out.slots = load_be32(from + at::slots);
  out.supply_low_mv = load_be32(from + at::supply_low);
  out.supply_high_mv = load_be32(from + at::supply_high);
  out.supply_step_mv = load_be32(from + at::supply_step);
  out.enrolment = load_be32(from + at::enrolment);
  out.root_size = load_be16(from + at::root_size);
  out.trust_size = load_be16(from + at::trust_size);
  out.trust_root_version = load_be32(from + at::trust_root_version);
  out.trust_sequence = load_be32(from + at::trust_sequence);
  out.kept_count = from[at::kept_count];
  out.mark_count = from[at::mark_count];
  out.withdrawn_count = from[at::withdrawn_count];
  load_digest(from + at::owner, out.owner);
  load_digest(from + at::root_digest, out.root_digest);
  load_digest(from + at::trust_digest, out.trust_digest);
  load_digest(from + at::log_head, out.log_head);
  return ids && out.root_size > 0 && out.root_size <= state::text_limit &&
         out.trust_size <= state::text_limit && out.kept_count <= state::kept_count &&
         out.mark_count <= state::mark_count && out.withdrawn_count <= state::withdrawn_count &&
         stores_back(out, bytes, store_state_head);
}

void store_state_kept(const StateKept& kept, StateKeptBytes& out) {
  fill(out, 0);
  store_be64(out.data(), kept.serial);
  store_be64(out.data() + 8, kept.ordinals_used);
  store_be32(out.data() + 16, kept.units_started);
  store_digest(kept.text, out.data() + 32);
}

bool load_state_kept(const StateKeptBytes& bytes, StateKept& out) {
  out.serial = load_be64(bytes.data());
  out.ordinals_used = load_be64(bytes.data() + 8);
  out.units_started = load_be32(bytes.data() + 16);
  load_digest(bytes.data() + 32, out.text);
  return stores_back(out, bytes, store_state_kept);
}

void store_state_mark(const StateMark& mark, StateMarkBytes& out) {
  fill(out, 0);
  store_id(mark.product, out.data());
  store_be32(out.data() + 20, mark.epoch);
  store_be64(out.data() + 24, mark.sequence);
  store_digest(mark.manifest, out.data() + 32);
}

bool load_state_mark(const StateMarkBytes& bytes, StateMark& out) {
  const bool id = load_id(bytes.data(), out.product);
  out.epoch = load_be32(bytes.data() + 20);
  out.sequence = load_be64(bytes.data() + 24);
  load_digest(bytes.data() + 32, out.manifest);
  return id && stores_back(out, bytes, store_state_mark);
}

} // namespace cardseal::format
