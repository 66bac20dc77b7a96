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
  before_diode,     // a diode or switch on the board takes a part of it
  before_regulator, // a regulator on the board makes the device's supply from it
};

enum class OwnSupply : std::uint8_t { none, battery, mains };

struct BoardSupply {
  SupplyEntry entry = SupplyEntry::at_device;
  std::uint32_t min_mv = 0; // at the entry
  std::uint32_t max_mv = 0; // at the entry; above it the board is damaged
  OwnSupply own = OwnSupply::none;
  std::uint32_t drop_least_mv = 0; // without current; before_diode only
  std::uint32_t drop_most_mv = 0;  // at full load; not at_device; a regulator's dropout
  std::uint32_t output_min_mv = 0; // before_regulator only
  std::uint32_t output_max_mv = 0; // before_regulator only
  Source source;
  Place place;
};

struct BoardLoad { // the most that a board draws
  std::uint32_t program_ma = 0;
  std::uint32_t erase_ma = 0;
  std::uint32_t verify_ma = 0;
  std::uint32_t start_ma = 0;             // while its capacitance charges
  std::uint32_t capacitance_uf = 0;       // that a station has to charge, with its tolerance
  std::optional<std::uint32_t> bleed_ohm; // a resistor across it; none: the board has none
  Source source;
  Place place;
};

struct BoardCable { // one wire from the station to the board and one like it back
  std::uint32_t length_mm = 0;
  std::uint32_t awg = 0;      // 20 to 34; 0: area_um2 is stated instead
  std::uint32_t area_um2 = 0; // of copper; 0: awg is stated instead
  std::uint32_t hottest_c = 20;
  Source source;
  Place place;
};

struct BoardContacts {
  std::uint32_t there = 0; // in series on the way to the board
  std::uint32_t back = 0;
  std::uint32_t new_mohm = 0;  // of each
  std::uint32_t worn_mohm = 0; // of each at the end of its life
  Source source;
  Place place;
};

// The lines between station and device: at the worst of all that hang on them.
struct BoardSignals {
  std::uint32_t high_min_mv = 0;    // below it a line need not be taken for high
  std::uint32_t max_mv = 0;         // above it something is damaged
  std::uint32_t over_device_mv = 0; // so far above the device's supply it feeds the device instead
  Source source;
  Place place;
};

struct PanelPlace { // a slot of the fixture and the place on the panel that it works on
  std::uint32_t slot = 1;
  std::string position; // 1 to 8 of printable ASCII
  Place place;
};

struct Board {
  std::string id;             // at most 32
  std::uint32_t revision = 0; // 0 to 999,999
  std::string product;        // at most 16
  std::string device;         // id of a device profile
  BoardSupply supply;
  BoardLoad load;
  BoardCable cable;
  BoardContacts contacts;
  BoardSignals signals;
  // Clocks that stand on the board, by the names that device profiles need them under; at most 8.
  std::vector<std::string> clocks;
  std::optional<Source> clocks_source;
  std::optional<std::uint32_t> label_characters; // room on the label that shows a unit's serial
  std::vector<PanelPlace> panel;                 // at most 32, by slot; none: boards are loose
  Place place;
};

xml::All<Board> read_board(const xml::Document& document);

} // namespace cardseal::profile
