// What a simulated station is made of: a card in a file that is written in place, two cells for the
// note of the last record in another, the memory of station-check; and the power for all three,
// which can go in the middle of a write.
#pragma once

#include <optional>
#include <string>

#include "io/device.h"
#include "io/file.h"
#include "loader/run_log.h"

#include "../station-check/state_file.h"

namespace cardseal::station_sim {

// Opens a file to be read and written in place, or makes one of `size` bytes, erased.
Try<io::Device> open_or_make(io::System& system, const std::string& path, std::size_t size);

// Counts writes; the one that is to fail comes through by half, and then nothing does until `on`.
class Power {
public:
  void on() { left_ = card_left_ = forever, dead_ = card_dead_ = false; }
  void cut_at(std::uint32_t write) { left_ = write - 1; }
  void pull_card_at(std::uint32_t write) { card_left_ = write - 1; }
  bool dead() const { return dead_; }
  bool card_dead() const { return dead_ || card_dead_; }
  // How much of a write of `size` bytes comes through.
  std::size_t take(std::size_t size, bool card);

private:
  static constexpr std::uint64_t forever = ~std::uint64_t{0};
  std::uint64_t left_ = forever;
  std::uint64_t card_left_ = forever;
  bool dead_ = false;
  bool card_dead_ = false;
};

class Hardware {
public:
  Hardware(io::Device card, io::Device notes, station_check::StateFile state)
      : card_(std::move(card)), notes_(std::move(notes)), state_(std::move(state)),
        memory_(state_.storage()) {}
  Hardware(const Hardware&) = delete;
  Hardware& operator=(const Hardware&) = delete;

  loader::SectorReader reader();
  loader::SectorWriter writer();
  loader::NoteStorage notes();
  loader::StateStorage memory();
  void damage(std::uint32_t lba) { damaged_ = lba; } // this sector of the card takes no write

  Power power;

private:
  std::optional<std::uint32_t> damaged_;
  io::Device card_;
  io::Device notes_;
  station_check::StateFile state_;
  loader::StateStorage memory_; // of state_, without the power
};

inline constexpr std::size_t note_stride = 1024; // from cell to cell

} // namespace cardseal::station_sim
