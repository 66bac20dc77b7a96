#include "profile/board.h"

#include "xml/join.h"

namespace cardseal::profile {

namespace {

BoardSupply read_supply(const xml::Element& element) {
  constexpr xml::Word<SupplyEntry> entries[] = {
      {"at-device", SupplyEntry::at_device}, {"before-regulator", SupplyEntry::before_regulator}};
  constexpr xml::Word<OwnSupply> owns[] = {
      {"none", OwnSupply::none}, {"battery", OwnSupply::battery}, {"mains", OwnSupply::mains}};
  BoardSupply supply;
  supply.entry = element.choice("entry", entries);
  supply.min_mv = element.uint("min-millivolts", 0, 60000);
  supply.max_mv = element.uint("max-millivolts", 0, 60000);
  supply.own = element.choice("own", owns);
  supply.source = read_source(element);
  supply.place = element.place();
  if (element.sound() && supply.min_mv > supply.max_mv) {
    element.refuse("min-millivolts", "the board's lowest supply is above its highest",
                   std::to_string(supply.min_mv),
                   xml::joined({"at most ", std::to_string(supply.max_mv)}),
                   "exchange or correct them");
  }
  return supply;
}

BoardLoad read_load(const xml::Element& element) {
  BoardLoad load;
  load.current_ma = element.uint("current-milliamps", 0, 100000);
  load.capacitance_uf = element.uint("capacitance-microfarads", 0, 1000000);
  load.source = read_source(element);
  load.place = element.place();
  return load;
}

} // namespace

xml::All<Board> read_board(const xml::Document& document) {
  xml::Reader reader(document);
  const xml::Element root = reader.root("board");
  Board board;
  board.id = root.id("id");
  board.revision = root.uint("revision", 0, 999999);
  board.product = root.id("product", 16);
  board.device = root.id("device");
  board.place = root.place();
  board.supply = read_supply(root.one("supply"));
  board.load = read_load(root.one("load"));
  if (const xml::Element clocks = root.maybe("clocks")) {
    board.clocks_source = read_source(clocks);
    for (const xml::Element& one : clocks.many("clock", 1, 8)) {
      board.clocks.push_back(one.id("id", 16));
    }
  }
  return reader.result(std::move(board));
}

} // namespace cardseal::profile
