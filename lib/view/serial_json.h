// Units of a serial scheme, as JSON, schema 1.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace cardseal::view {

struct SerialUnit {
  std::uint64_t ordinal = 0;
  std::uint64_t number = 0;
  std::string text;
  std::vector<std::string> bytes; // hex, a placement each
  std::string why;                // on a proof sheet
};

struct SerialCollision {
  std::string against; // the other file
  std::string texts;   // never, can, not-excluded
  std::string reason;
  std::optional<std::uint64_t> number; // the lowest that both ranges have
};

struct SerialProof {
  std::string scheme;
  std::uint64_t first = 0; // ordinals
  std::uint64_t last = 0;
  std::uint64_t capacity = 0;
  std::vector<std::string> placements; // "flash 0x7FF0"
  std::vector<SerialUnit> units;
  std::optional<SerialCollision> collision;
};

std::string json_of(const SerialProof& proof);

} // namespace cardseal::view
