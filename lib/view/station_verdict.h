// A station's answer to a card, as `station-check` gets it from the station's own code.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/outcome.h"
#include "format/card_texts.h"
#include "format/manifest.h"

namespace cardseal::view {

struct StationUnit {
  std::uint64_t ordinal = 0;
  std::string text;
  std::vector<std::string> bytes; // of each placement, hex
};

struct StationVerdict {
  Outcome outcome;
  std::string station; // empty when its memory could not be read
  std::string model;
  std::uint32_t enrolment = 0;
  std::vector<std::string> learned; // what stays in its memory, also when the card is refused
  std::uint32_t job = 1;            // that was asked for, from 1
  std::uint32_t jobs = 0;           // of this station on the card; 0: it did not get so far
  // The rest only when admitted.
  format::Manifest manifest;
  format::Digest manifest_digest{};
  format::Allotment allotment;
  std::uint32_t units_left = 0;
  std::optional<StationUnit>
      first; // the next unit and the allotment's last, when there are serials
  std::optional<StationUnit> last;
  std::uint64_t image_bytes = 0; // streamed and proved block by block
  format::Digest image_digest{}; // SHA-256 of what was streamed
};

// Slot 1 leftmost, '1' where a slot is enabled, as long as the permitted slots reach.
std::string slot_row(std::uint32_t permitted, std::uint32_t enabled);

std::string json_of(const StationVerdict& verdict, const std::string& card);

} // namespace cardseal::view
