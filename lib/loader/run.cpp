#include <new>

#include "loader/need.h"
#include "loader/station.h"

namespace cardseal::loader {
namespace {

std::uint32_t slots_in(std::uint32_t mask) {
  std::uint32_t count = 0;
  for (; mask != 0; mask &= mask - 1) {
    ++count;
  }
  return count;
}

// Puts `used` in its place: instead of its former self, as one more, or for the lowest serial.
void keep(const trust::KeptAllotment& used, KeptAllotments& kept) {
  std::uint16_t at = 0;
  while (at < kept.count && kept.items[at].serial != used.serial) {
    ++at;
  }
  if (at == kept.count && !kept.add(used)) {
    at = 0;
  }
  kept.items[at] = used;
  for (; at + 1 < kept.count && kept.items[at].serial > kept.items[at + 1U].serial; ++at) {
    const trust::KeptAllotment lower = kept.items[at + 1U];
    kept.items[at + 1U] = kept.items[at];
    kept.items[at] = lower;
  }
  for (; at > 0 && kept.items[at].serial < kept.items[at - 1U].serial; --at) {
    const trust::KeptAllotment higher = kept.items[at - 1U];
    kept.items[at - 1U] = kept.items[at];
    kept.items[at] = higher;
  }
}

// What this memory holds of the allotment; nothing begun when it holds nothing.
trust::KeptAllotment find_kept(const KeptAllotments& kept, const trust::KeptAllotment& admitted) {
  for (const trust::KeptAllotment& one : kept.view()) {
    if (one.serial == admitted.serial) {
      return one;
    }
  }
  return {admitted.serial, 0, 0, admitted.text};
}

} // namespace

std::uint32_t Station::units_left() const {
  return job().allotment.units - job().used.units_started;
}

Outcome Station::start_image() {
  if (!admitted_) {
    return refuse(Fault::card_empty);
  }
  const Job& job = arena_.phase.job;
  new (&arena_.stream.stream)
      trust::ImageStream(crypto_, job.package, job.verdict.layout, job.manifest.chain_head);
  streaming_ = true;
  return done;
}

Outcome Station::next_block(ByteView& block) {
  block = {};
  if (!streaming_) { // never started, or over after a fault: that must not look like the end
    return refuse(Fault::image_block);
  }
  if (arena_.stream.stream.at_end()) {
    return done;
  }
  std::size_t size = 0;
  const Outcome outcome = arena_.stream.stream.next(arena_.text, size);
  if (outcome.ok()) {
    block = ByteView(arena_.text).first(size);
  } else {
    streaming_ = false;
  }
  return outcome;
}

Outcome Station::unit_text(std::uint64_t ordinal, unit::UnitText& text) const {
  const format::Allotment& allotment = job().allotment;
  std::uint64_t place = 0;
  return format::place_of(allotment, ordinal, place)
             ? unit::text_of(unit::serials_of(job().manifest, &allotment), ordinal, text)
             : refuse(Fault::allotment_capacity);
}

Outcome Station::unit_bytes(std::uint64_t ordinal, std::size_t placement,
                            unit::UnitBytes& bytes) const {
  const format::Allotment& allotment = job().allotment;
  std::uint64_t place = 0;
  if (placement >= job().manifest.placements.count) {
    return refuse(Fault::manifest_placement);
  }
  return format::place_of(allotment, ordinal, place)
             ? unit::bytes_of(unit::serials_of(job().manifest, &allotment),
                              job().manifest.placements.items[placement], ordinal, bytes)
             : refuse(Fault::allotment_capacity);
}

bool Station::is_on_card(std::uint64_t ordinal) const {
  std::uint64_t place = 0;
  return format::place_of(job().allotment, ordinal, place);
}

Outcome Station::ordinal_on_board(std::size_t placement, ByteView bytes,
                                  std::uint64_t& ordinal) const {
  const format::Manifest& manifest = job().manifest;
  if (placement >= manifest.placements.count) {
    return refuse(Fault::manifest_placement);
  }
  const Outcome outcome =
      unit::ordinal_of_bytes(unit::serials_of(manifest, &job().allotment),
                             manifest.placements.items[placement], bytes, ordinal);
  return outcome.ok() ? need(is_on_card(ordinal), Fault::board_other) : outcome;
}

Outcome Station::ordinal_on_label(std::string_view text, std::uint64_t& ordinal) const {
  if (!job().allotment.scheme.present) {
    return refuse(Fault::allotment_capacity);
  }
  const Outcome outcome =
      unit::ordinal_of_text(unit::serials_of(job().manifest, &job().allotment), text, ordinal);
  return outcome.ok() ? need(is_on_card(ordinal), Fault::board_other) : outcome;
}

// Slots whose board the card does not name, or has the number of another one: nobody knows which
// of the two is the copy.
std::uint32_t Station::other_boards(std::uint32_t slot_mask,
                                    std::span<const std::uint64_t> ordinals) const {
  std::uint32_t others = 0;
  std::size_t board = 0;
  for (std::uint32_t slot = 1; slot_mask != 0; slot_mask &= ~slot, slot <<= 1U) {
    if ((slot_mask & slot) == 0) {
      continue;
    }
    bool known = is_on_card(ordinals[board]);
    for (std::size_t other = 0; other < ordinals.size(); ++other) {
      known = known && (other == board || ordinals[other] != ordinals[board]);
    }
    others |= known ? 0U : slot;
    ++board;
  }
  return others;
}

Outcome Station::begin_cycle(std::uint32_t slot_mask, std::uint64_t& first_ordinal) {
  if (!admitted_) {
    return refuse(Fault::card_empty);
  }
  if (job().allotment.numbers != format::Numbers::fresh) {
    return refuse(Fault::allotment_capacity);
  }
  const std::uint64_t first = job().allotment.first + job().used.ordinals_used;
  const Outcome outcome = take_units(slot_mask);
  if (outcome.ok()) {
    first_ordinal = first;
  }
  return outcome;
}

Outcome Station::begin_boards(std::uint32_t slot_mask, std::span<const std::uint64_t> ordinals) {
  if (!admitted_) {
    return refuse(Fault::card_empty);
  }
  if (job().allotment.numbers == format::Numbers::fresh || ordinals.size() != slots_in(slot_mask)) {
    return refuse(Fault::allotment_capacity);
  }
  const std::uint32_t others = other_boards(slot_mask, ordinals);
  const Outcome outcome = need(others == 0, Fault::board_other, others);
  return outcome.ok() ? take_units(slot_mask) : outcome;
}

Outcome Station::take_units(std::uint32_t slot_mask) {
  Job& job = arena_.phase.job;
  const format::Manifest& manifest = job.manifest;
  KeptAllotments kept;
  Outcome outcome = memory_.read_kept(kept);
  if (!outcome.ok()) {
    return outcome;
  }
  trust::KeptAllotment used = find_kept(kept, job.used);
  const std::uint32_t units = slots_in(slot_mask);
  const std::uint64_t ordinals = job.allotment.scheme.present ? units : 0;
  const bool enabled = slot_mask != 0 && (slot_mask & ~job.allotment.enabled_slots) == 0;
  const bool left = used.units_started + units <= job.allotment.units &&
                    used.ordinals_used + ordinals <= job.allotment.count;
  outcome = trust::Checks()
                .need(enabled, Fault::allotment_slots)
                .need(left, Fault::allotment_used_up)
                .outcome();
  std::uint8_t mark_index = 0;
  trust::ProductMark mark;
  if (outcome.ok()) {
    outcome = memory_.find_mark(manifest.product, mark_index, mark);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  used.units_started += units;
  used.ordinals_used += ordinals;
  keep(used, kept);
  outcome = memory_.keep_progress(
      kept, mark_index,
      {manifest.product, manifest.epoch, manifest.sequence, job.verdict.manifest_digest});
  if (outcome.ok()) {
    job.used = used;
  }
  return outcome;
}

} // namespace cardseal::loader
