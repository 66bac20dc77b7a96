// What a station remembers of the record that it wrote last, in each of two cells apart from its
// memory, so that the record can be written to the card once more after a power cut. Fixed offsets,
// big-endian; layout and a worked example: SPEC-station.md.
#pragma once

#include "format/run_log.h"

namespace cardseal::format {

struct LogNote {
  std::uint32_t generation = 0; // the higher of two good cells counts
  std::uint32_t lba = 0;        // sector of the card that the record is for
  CardId card{};
  std::array<std::uint8_t, log_sector> sector{};
};

inline constexpr std::size_t log_note_size = 548;
using LogNoteBytes = std::array<std::uint8_t, log_note_size>;

void store_log_note(const LogNote& note, LogNoteBytes& out);
// False for anything that store_log_note does not make: torn, or never written.
bool load_log_note(const LogNoteBytes& bytes, LogNote& out);

} // namespace cardseal::format
