// order.xml as its author wrote it: how many boards of an approved release, on which cards, for
// which stations. The file alone; lot/check.h holds it against the package and the register.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "format/card_texts.h"
#include "io/system.h"
#include "xml/element.h"

namespace cardseal::lot {

struct OrderCard {
  std::string place; // 1 to 24 characters, once in an order
  std::string station;
  std::string model;
  std::uint32_t units = 1;
  std::string slots; // like 1-3,5; empty: all that the release permits
  bool spare = false;
  std::string line;      // where the station stands; may be empty
  std::string continues; // a place; empty: none
  format::Numbers numbers = format::Numbers::fresh;
  std::vector<std::pair<std::string, Place>> boards; // labels; exactly where numbers are not new
  Place where;
};

struct Reel {
  std::string lot;
  std::string part;
};

// A revision of the device that may be on these boards, by its title in the device's profile.
struct SiliconRevision {
  std::string title;
  Place where;
};

struct Order {
  std::string file;
  std::vector<std::uint8_t> bytes; // of the file
  std::string work_order;          // 1 to 24 characters
  std::uint32_t revision = 1;
  format::WorkClass work_class = format::WorkClass::production;
  std::string product;
  std::string version;
  std::uint32_t board_revision = 0;
  std::uint32_t quantity = 1; // boards that are to ship
  std::uint32_t spares = 0;   // numbers beyond them
  std::string date_code;      // empty: none
  std::vector<Reel> reels;
  std::vector<SiliconRevision> silicon; // empty: all that the profile allows
  bool first_article = false;
  std::string parent; // empty: none
  bool data_memory_may_be_lost = false;
  std::vector<OrderCard> cards; // 1 to 99
  Place release_place;
  Place boards_place;
  Place place;

  std::uint64_t allowed() const { return std::uint64_t{quantity} + spares; }
};

xml::All<Order> parse_order(ByteView bytes, const std::string& file); // `file`: for messages
xml::All<Order> read_order(io::System& system, const io::Path& file);

} // namespace cardseal::lot
