#include "run.h"

#include <algorithm>
#include <bit>

namespace cardseal::station_sim {
namespace {

std::uint32_t bit_of(std::uint8_t slot) {
  return std::uint32_t{1} << (slot - 1);
}

template <class Each>
void each_slot(std::uint32_t slots, Each each) {
  for (std::uint8_t slot = 1; slot <= 32; ++slot) {
    if ((slots & bit_of(slot)) != 0) {
      each(slot);
    }
  }
}

} // namespace

Outcome Run::power_on() {
  hardware_.power.on();
  station_ = std::make_unique<loader::Station>(*arena_, reader_, memory_, crypto_);
  log_ = std::make_unique<loader::RunLog>(*station_, writer_, notes_, crypto_);
  const Outcome outcome = station_->admit(static_cast<std::uint16_t>(options_.job - 1));
  if (!outcome.ok() && !station_->finished()) {
    return outcome;
  }
  came_back_ = station_->job().used.units_started; // boards whose units are taken don't come again
  format::LogExtent& log = arena_->phase.job.log;
  log.count = std::min(log.count, scenario_.log_records.value_or(log.count));
  if (scenario_.log_damaged) {
    hardware_.damage(log.first + *scenario_.log_damaged - 1);
  }
  const Outcome opened = log_->open(options_.entered);
  return outcome.ok() ? opened : outcome;
}

std::uint16_t Run::supply_mv() const {
  return static_cast<std::uint16_t>(station_->job().manifest.supply_mv);
}

// The lowest enabled slots that somebody put a board into, no more than there are units.
Run::Slots Run::boards_in() const {
  Slots slots = 0;
  std::uint32_t left = station_->units_left();
  each_slot(station_->job().allotment.enabled_slots & ~log_->stopped_slots(),
            [&](std::uint8_t slot) {
              const BoardEvent* event = scenario_.board(report_.cycles, slot);
              if (left > 0 && scenario_.off.count(slot) == 0 &&
                  (event == nullptr || event->fault != BoardFault::no_board)) {
                slots |= bit_of(slot);
                --left;
              }
            });
  return slots;
}

std::uint64_t Run::ordinal_of(std::uint8_t slot) const {
  return ordinals_[slot - 1U];
}

// Boards come back in the order of the card's numbers, unless the scenario sends another one.
std::uint64_t Run::next_board(std::uint8_t slot) {
  const format::Allotment& a = station_->job().allotment;
  const BoardEvent* event = scenario_.board(report_.cycles, slot);
  if (event != nullptr && event->fault == BoardFault::other_number) {
    return format::ordinal_at(a, a.count - 1) + 1;
  }
  return format::ordinal_at(a, came_back_++);
}

// What the station finds out about the number of the board in a slot, from its memory or its label.
Outcome Run::number_of(std::uint8_t slot, std::uint64_t carried, std::uint64_t& found) {
  const loader::Job& job = station_->job();
  const unit::Serials serials = unit::serials_of(job.manifest, &job.allotment);
  if (job.allotment.numbers == format::Numbers::stated || job.manifest.placements.count == 0) {
    unit::UnitText text;
    const Outcome outcome = unit::text_of(serials, carried, text);
    return outcome.ok() ? station_->ordinal_on_label(text.view(), found) : outcome;
  }
  const format::Placement& placement = job.manifest.placements.items[0];
  unit::UnitBytes bytes;
  const Outcome outcome = unit::bytes_of(serials, placement, carried, bytes);
  if (!outcome.ok()) {
    return outcome;
  }
  Board& board = boards_[slot - 1U];
  board.erase();
  board.write(placement.address, bytes.view()); // from its first programming
  io::Bytes read(bytes.view().size());
  board.read(placement.address, read);
  return station_->ordinal_on_board(0, read, found);
}

Outcome Run::begin(Slots& slots) {
  if (station_->job().allotment.numbers == format::Numbers::fresh) {
    std::uint64_t first = 0;
    const Outcome outcome = log_->begin_cycle(slots, supply_mv(), first);
    each_slot(slots, [&](std::uint8_t slot) { ordinals_[slot - 1U] = first++; });
    return outcome;
  }
  std::vector<std::uint64_t> ordinals;
  Slots ours = 0;
  each_slot(slots, [&](std::uint8_t slot) {
    if (number_of(slot, next_board(slot), ordinals_[slot - 1U]).ok()) {
      ours |= bit_of(slot);
      ordinals.push_back(ordinals_[slot - 1U]);
    } else {
      ++report_.turned_away;
    }
  });
  slots = slots_ = ours;
  return ours == 0 ? Outcome(done) : log_->begin_boards(ours, supply_mv(), ordinals);
}

// What a station finds before the first byte goes to a board.
void Run::look(std::uint8_t slot, std::uint8_t number) {
  outcome_[slot - 1U] = scenario_.found(report_.cycles, slot, number);
}

// Calls `work` with each well board and each piece of the image, block by verified block.
template <class Work>
Outcome Run::each_piece(Slots slots, Work work) {
  Outcome outcome = station_->start_image();
  ByteView block;
  std::uint64_t offset = 0;
  do {
    outcome = outcome.ok() ? station_->next_block(block) : outcome;
    if (!outcome.ok()) {
      return outcome;
    }
    for (const PlacedPiece& piece : placed(station_->job().manifest, offset, block)) {
      each_slot(slots, [&](std::uint8_t slot) {
        if (is_well(slot)) {
          work(slot, piece);
        }
      });
    }
    offset += block.size();
  } while (!block.empty());
  return outcome;
}

Outcome Run::program(Slots slots) {
  return each_piece(slots, [&](std::uint8_t slot, const PlacedPiece& piece) {
    boards_[slot - 1U].write(piece.address, piece.bytes);
  });
}

Outcome Run::serial(std::uint8_t slot) {
  const format::Manifest& manifest = station_->job().manifest;
  for (std::size_t i = 0; i < manifest.placements.count && manifest.scheme.present; ++i) {
    unit::UnitBytes bytes;
    const Outcome outcome = station_->unit_bytes(ordinal_of(slot), i, bytes);
    if (!outcome.ok()) {
      return outcome;
    }
    const std::uint64_t address = manifest.placements.items[i].address;
    Board& board = boards_[slot - 1U];
    board.write(address, bytes.view());
    const BoardEvent* event = scenario_.board(report_.cycles, slot);
    if (event != nullptr && event->fault == BoardFault::verify_error && event->address >= address &&
        event->address - address < bytes.view().size()) {
      board.spoil(event->address);
    }
    if (!board.holds(address, bytes.view())) { // serials are read back too
      outcome_[slot - 1U] = "VERIFY";
    }
  }
  return done;
}

// Reads the boards back against the image, block by block once more; the serial's own places hold
// something else, so they are written after it.
Outcome Run::verify(Slots slots) {
  return each_piece(slots, [&](std::uint8_t slot, const PlacedPiece& piece) {
    if (!boards_[slot - 1U].holds(piece.address, piece.bytes)) {
      outcome_[slot - 1U] = "VERIFY";
    }
  });
}

Outcome Run::write_down(std::uint8_t slot) {
  std::string& word = outcome_[slot - 1U];
  if (word.empty()) {
    word = format::log_good;
  }
  loader::UnitEnd end;
  end.slot = slot;
  end.outcome.set(word);
  end.supply_mv = supply_mv();
  // As long as the image's bytes would take at 64 bytes a millisecond; invented.
  end.duration_ms = 400 + station_->job().manifest.image_size / 64;
  const Outcome outcome = log_->end(end);
  report_.outcomes[word] += outcome.ok() ? 1 : 0;
  return outcome;
}

Outcome Run::attempt(Slots slots, std::uint8_t number, Slots& failed) {
  each_slot(slots, [&](std::uint8_t slot) {
    look(slot, number);
    boards_[slot - 1U].erase();
  });
  Outcome outcome = program(slots);
  each_slot(slots, [&](std::uint8_t slot) {
    const BoardEvent* event = scenario_.board(report_.cycles, slot);
    if (event != nullptr && event->fault == BoardFault::verify_error) {
      boards_[slot - 1U].spoil(event->address);
    }
  });
  outcome = outcome.ok() ? verify(slots) : outcome;
  failed = 0;
  each_slot(slots, [&](std::uint8_t slot) {
    if (outcome.ok() && is_well(slot)) {
      outcome = serial(slot);
    }
    outcome = outcome.ok() ? write_down(slot) : outcome;
    failed |= outcome_[slot - 1U] == format::log_good ? 0 : bit_of(slot);
  });
  return outcome;
}

Outcome Run::cycle(Slots slots) {
  slots_ = slots;
  if (const Cut* cut = scenario_.cut(report_.cycles)) {
    if (cut->card_only) {
      hardware_.power.pull_card_at(cut->write);
    } else {
      hardware_.power.cut_at(cut->write);
    }
  }
  Outcome outcome = begin(slots);
  Slots trying = slots;
  for (std::uint8_t number = 1; outcome.ok() && trying != 0 && number <= scenario_.tries;
       ++number) {
    if (number > 1) {
      each_slot(trying, [&](std::uint8_t slot) {
        outcome = outcome.ok() ? log_->begin_again(slot, supply_mv()) : outcome;
      });
    }
    outcome = outcome.ok() ? attempt(trying, number, trying) : outcome;
  }
  return outcome;
}

Try<void> Run::keep_dumps(Slots slots) {
  Try<void> kept;
  each_slot(slots, [&](std::uint8_t slot) {
    for (const Dump& dump : options_.dumps) {
      const bool wanted = station_->job().manifest.scheme.present &&
                          dump.ordinal == ordinal_of(slot) &&
                          outcome_[slot - 1U] == format::log_good;
      if (wanted && kept) {
        auto hex = boards_[slot - 1U].as_hex();
        if (!hex) {
          kept = Unexpected(std::move(hex).error());
          return;
        }
        report_.dumps[dump.ordinal] = *hex;
      }
    }
  });
  return kept;
}

Try<RunReport> Run::work() {
  report_ = {};
  report_.admitted = power_on();
  Outcome outcome = report_.admitted;
  while (outcome.ok() && station_->units_left() > 0 &&
         (options_.cycles == 0 || report_.cycles < options_.cycles)) {
    ++report_.cycles;
    const Slots slots = slots_ = boards_in();
    if (slots == 0 && log_->stopped_slots() != 0) { // somebody looks at the slots, and goes on
      outcome = power_on();
      continue;
    }
    outcome = slots == 0 ? Outcome(done) : cycle(slots);
    if (outcome.ok()) {
      if (auto kept = keep_dumps(slots_); !kept) {
        return Unexpected(kept.error());
      }
    } else if (scenario_.cut(report_.cycles) != nullptr) {
      ++report_.interrupted;
      outcome = power_on();
    }
  }
  report_.units_left = report_.admitted.ok() && station_->admitted() ? station_->units_left() : 0;
  if (outcome.fault != Fault::allotment_used_up) { // after a cut in the last cycle
    report_.stopped = outcome;
  }
  return report_;
}

} // namespace cardseal::station_sim
