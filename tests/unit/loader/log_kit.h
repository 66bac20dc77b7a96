// A bench whose station writes its run log: the card's sectors and the cells of the note can be cut
// at any write, like the station's memory, and after a cut nothing of the three works.
#pragma once

#include <array>
#include <functional>

#include "loader/run_log.h"
#include "station_kit.h"

namespace cardseal::test {

inline format::LogWord word(std::string_view value) {
  return text<24>(value);
}

class LogBench {
public:
  explicit LogBench(CardKit& kit) : bench(kit) {
    for (Bytes& cell : cells) {
      cell.assign(format::log_note_size, 0xFF);
    }
  }

  // Power on with the card in: the station starts anew.
  Outcome power_on() {
    bench.store.writes_left = no_cut;
    card_writes_left = note_writes_left = no_cut;
    return restart();
  }
  Outcome restart() {
    bench.restart();
    log = std::make_unique<loader::RunLog>(*bench.station, writer, notes, bench.crypto);
    const Outcome outcome = bench.admit();
    const bool usable = outcome.ok() || bench.station->finished();
    return usable ? log->open(entered) : outcome;
  }
  Outcome end(std::uint8_t slot, std::string_view outcome) {
    return log->end({slot, word(outcome), 3300, 1500});
  }

  format::LogExtent extent() const { return bench.station->job().log; }
  std::uint32_t log_lba() const { return bench.card.lba_of("CARDSEAL/LOG.CSV"); }
  std::uint32_t log_sectors() const { // with the header
    return bench.card.plan.find("CARDSEAL/LOG.CSV")->extent.sector_count;
  }
  Bytes log_sector(std::uint32_t record) const { return bench.card.sector(log_lba() + 1 + record); }

  static constexpr auto no_cut = static_cast<std::size_t>(-1);
  Bench bench;
  std::array<Bytes, 2> cells;
  loader::Entered entered;
  std::size_t card_writes = 0, card_writes_left = no_cut;
  std::size_t note_writes = 0, note_writes_left = no_cut;
  std::vector<std::uint32_t> written; // sectors of the card, in order
  loader::SectorWriter writer{this, write_sector, sync};
  loader::NoteStorage notes{this, read_note, write_note, sync};
  std::unique_ptr<loader::RunLog> log;

private:
  bool dead() const {
    return bench.store.writes > bench.store.writes_left || card_writes > card_writes_left ||
           note_writes > note_writes_left;
  }
  // How much of a write of `size` bytes still comes through.
  std::size_t comes_through(std::size_t& writes, std::size_t writes_left, std::size_t size) {
    if (dead()) {
      return 0;
    }
    ++writes;
    if (writes > writes_left) {
      bench.store.writes_left = bench.store.writes; // the memory has no power either
      return size / 2;
    }
    return size;
  }
  static bool write_sector(void* context, std::uint32_t lba, ByteView bytes) {
    auto& self = *static_cast<LogBench*>(context);
    const std::size_t size = self.comes_through(self.card_writes, self.card_writes_left, 512);
    self.written.push_back(lba);
    self.bench.card.set(lba, 0, bytes.first(size));
    return size == 512;
  }
  static bool read_note(void* context, unsigned cell, ByteSpan out) {
    copy(out, static_cast<LogBench*>(context)->cells.at(cell));
    return true;
  }
  static bool write_note(void* context, unsigned cell, ByteView bytes) {
    auto& self = *static_cast<LogBench*>(context);
    const std::size_t size =
        self.comes_through(self.note_writes, self.note_writes_left, bytes.size());
    copy(ByteSpan(self.cells.at(cell)).first(size), bytes.first(size));
    return size == bytes.size();
  }
  static bool sync(void* context) { return !static_cast<LogBench*>(context)->dead(); }
};

} // namespace cardseal::test
