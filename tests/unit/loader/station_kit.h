// A station on the test bench: memory in two slots that can be cut at any write, a card whose
// sectors a test may change between reads, and the loader over both.
#pragma once

#include "crypto/table.h"
#include "loader/station.h"
#include "support/card_kit.h"

namespace cardseal::test {

inline int number(const Outcome& outcome) {
  return static_cast<int>(outcome.fault);
}

// Writes up to `writes_left` go through; the next is torn in the middle, and nothing works after.
class SlotStore {
public:
  SlotStore() {
    for (Bytes& slot : slots) {
      slot.assign(format::state::slot_size, format::state_erased);
    }
  }
  loader::StateStorage storage() { return {this, read, write, sync}; }

  std::array<Bytes, 2> slots;
  std::size_t writes = 0;
  std::size_t writes_left = static_cast<std::size_t>(-1);
  bool reads_fail = false;
  bool drops_writes = false; // says yes and writes nothing, like worn-out memory

private:
  static bool read(void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
    auto& self = *static_cast<SlotStore*>(context);
    copy(out, ByteView(self.slots.at(slot)).subspan(offset, out.size()));
    return !self.reads_fail;
  }
  static bool write(void* context, unsigned slot, std::uint32_t offset, ByteView bytes) {
    auto& self = *static_cast<SlotStore*>(context);
    ++self.writes;
    if (self.drops_writes) {
      return true;
    }
    const bool cut = self.writes > self.writes_left;
    const std::size_t size = !cut                                  ? bytes.size()
                             : self.writes == self.writes_left + 1 ? bytes.size() / 2
                                                                   : 0;
    copy(ByteSpan(self.slots.at(slot)).subspan(offset, size), bytes.first(size));
    return !cut;
  }
  static bool sync(void* context) {
    const auto& self = *static_cast<SlotStore*>(context);
    return self.writes <= self.writes_left;
  }
};

class Bench {
public:
  explicit Bench(const Card& inserted) : card(inserted) {
    reader = {this, read_sectors, inserted.plan.shape.image_sectors};
  }
  // Enrolled as bench-1, enrolment 2, with six slots.
  explicit Bench(CardKit& kit) : Bench(kit.build()) { enrol(kit); }

  static format::StateHead head_of(const CardKit& kit) {
    format::StateHead head;
    head.station = id("bench-1");
    head.model = id("six-slot");
    head.slots = 0x3F;
    head.supply_low_mv = 1800;
    head.supply_high_mv = 5000;
    head.supply_step_mv = 100;
    head.enrolment = 2;
    head.owner = kit.owner();
    head.root_digest = head.owner;
    head.root_size = static_cast<std::uint16_t>(kit.root_text().size());
    return head;
  }
  void enrol(const CardKit& kit) { enrol(kit, head_of(kit)); }
  void enrol(const CardKit& kit, const format::StateHead& head) {
    store = SlotStore();
    const Outcome outcome = loader::StationMemory::create(storage, head, kit.root_text());
    if (!outcome.ok()) {
      throw std::runtime_error("enrolment failed");
    }
  }
  void insert(const Card& other) {
    card = other;
    reader.sector_count = other.plan.shape.image_sectors;
  }
  Outcome admit() { return station->admit(); }
  void restart() { station = std::make_unique<loader::Station>(*arena, reader, storage, crypto); }

  Card card;
  // Sees every read after it was served; false makes it fail.
  std::function<bool(std::uint32_t lba, ByteSpan bytes)> on_read;
  SlotStore store;
  loader::SectorReader reader;
  loader::StateStorage storage = store.storage();
  crypto::BotanContext botan;
  trust::CryptoTable crypto = crypto::botan_table(botan);
  std::unique_ptr<loader::Arena> arena = std::make_unique<loader::Arena>();
  std::unique_ptr<loader::Station> station =
      std::make_unique<loader::Station>(*arena, reader, storage, crypto);

private:
  static bool read_sectors(void* context, std::uint32_t lba, ByteSpan out) {
    auto& self = *static_cast<Bench*>(context);
    const bool good = self.card.sectors->read(lba, out).has_value();
    return good && (!self.on_read || self.on_read(lba, out));
  }
};

// The image as the station hands it out; stops at the first fault.
inline Outcome stream(loader::Station& station, Bytes& image) {
  image.clear();
  Outcome outcome = station.start_image();
  while (outcome.ok()) {
    ByteView block;
    outcome = station.next_block(block);
    image.insert(image.end(), block.begin(), block.end());
    if (block.empty()) {
      break;
    }
  }
  return outcome;
}

} // namespace cardseal::test
