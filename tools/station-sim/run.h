// A simulated station at work: cycle after cycle, in the order of work, with the station's own code
// between card, memory and boards.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "board.h"
#include "crypto/table.h"
#include "hardware.h"
#include "scenario.h"

namespace cardseal::station_sim {

struct Dump { // of the board that got this ordinal
  std::uint64_t ordinal = 0;
  std::string file;
};

struct RunOptions {
  std::uint16_t job = 1;    // of several on the card, as an operator chooses it
  std::uint32_t cycles = 0; // 0: until every unit is used
  loader::Entered entered;
  std::vector<Dump> dumps;
  const profile::Device* device = nullptr; // whose memory the boards have
};

struct RunReport {
  Outcome admitted;
  std::uint32_t cycles = 0;
  std::uint32_t interrupted = 0;                 // cycles, by a cut
  std::uint32_t turned_away = 0;                 // boards whose number the card does not name
  std::map<std::string, std::uint32_t> outcomes; // of tries
  std::uint32_t units_left = 0;
  Outcome stopped;                          // why the run could not go on
  std::map<std::uint64_t, io::Bytes> dumps; // Intel HEX by ordinal
};

class Run {
public:
  Run(Hardware& hardware, const Scenario& scenario, const RunOptions& options)
      : hardware_(hardware), scenario_(scenario), options_(options) {
    boards_.fill(Board(options.device));
  }

  // Errors are those of writing a dump; what a station refuses is in the report.
  Try<RunReport> work();

private:
  using Slots = std::uint32_t; // bit 0 is slot 1

  Outcome power_on();
  Slots boards_in() const;
  Outcome cycle(Slots slots);
  Outcome begin(Slots& slots);
  std::uint64_t next_board(std::uint8_t slot);
  Outcome number_of(std::uint8_t slot, std::uint64_t carried, std::uint64_t& found);
  Outcome attempt(Slots slots, std::uint8_t number, Slots& failed);
  void look(std::uint8_t slot, std::uint8_t number);
  template <class Work>
  Outcome each_piece(Slots slots, Work work);
  Outcome program(Slots slots);
  Outcome serial(std::uint8_t slot);
  Outcome verify(Slots slots);
  Outcome write_down(std::uint8_t slot);
  std::uint64_t ordinal_of(std::uint8_t slot) const;
  bool is_well(std::uint8_t slot) const { return outcome_[slot - 1U].empty(); }
  Try<void> keep_dumps(Slots slots);
  std::uint16_t supply_mv() const;

  Hardware& hardware_;
  const Scenario& scenario_;
  const RunOptions& options_;
  RunReport report_;
  loader::SectorReader reader_ = hardware_.reader();
  loader::SectorWriter writer_ = hardware_.writer();
  loader::NoteStorage notes_ = hardware_.notes();
  loader::StateStorage memory_ = hardware_.memory();
  crypto::BotanContext context_;
  trust::CryptoTable crypto_ = crypto::botan_table(context_);
  std::unique_ptr<loader::Arena> arena_ = std::make_unique<loader::Arena>();
  std::unique_ptr<loader::Station> station_;
  std::unique_ptr<loader::RunLog> log_;
  std::array<Board, 32> boards_;
  std::array<std::string, 32> outcome_;      // of the try at hand; empty: nothing is wrong so far
  std::array<std::uint64_t, 32> ordinals_{}; // of the board in each slot of the cycle
  std::uint64_t came_back_ = 0;              // boards with numbers that were put in so far
  Slots slots_ = 0;                          // of the cycle
};

} // namespace cardseal::station_sim
