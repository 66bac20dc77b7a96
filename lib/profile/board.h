// Board profile: the board that a device sits on, and what its supply entry can take. Authored as
// board.xml (templates/author/board.xml explains each value).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "profile/source.h"

namespace cardseal::profile {

enum class SupplyEntry : std::uint8_t {
  at_device,        // what the station gives stands at the device itself
  before_regulator, // a regulator on the board makes the device's supply from it
};

enum class OwnSupply : std::uint8_t { none, battery, mains };

struct BoardSupply {
  SupplyEntry entry = SupplyEntry::at_device;
  std::uint32_t min_mv = 0; // at the entry
  std::uint32_t max_mv = 0; // at the entry; above it the board is damaged
  OwnSupply own = OwnSupply::none;
  Source source;
  Place place;
};

struct BoardLoad {
  std::uint32_t current_ma = 0;     // drawn while it is programmed
  std::uint32_t capacitance_uf = 0; // that a station has to charge
  Source source;
  Place place;
};

struct Board {
  std::string id;             // at most 32
  std::uint32_t revision = 0; // 0 to 999,999
  std::string product;        // at most 16
  std::string device;         // id of a device profile
  BoardSupply supply;
  BoardLoad load;
  // Clocks that stand on the board, by the names that device profiles need them under; at most 8.
  std::vector<std::string> clocks;
  std::optional<Source> clocks_source;
  Place place;
};

xml::All<Board> read_board(const xml::Document& document);

} // namespace cardseal::profile
