#include "profile/board.h"

#include "xml/join.h"

namespace cardseal::profile {

namespace {

// Low and high of something, in rising order.
void check_rising(const xml::Element& element, const char* low_name, std::uint32_t low,
                  std::uint32_t high, const char* what) {
  if (element.sound() && low > high) {
    element.refuse(low_name, what, std::to_string(low),
                   xml::joined({"at most ", std::to_string(high)}), "exchange or correct them");
  }
}

// What stands between the entry and the device: each kind of entry states its own values.
void read_between(const xml::Element& element, BoardSupply& supply) {
  if (supply.entry == SupplyEntry::at_device) {
    return;
  }
  if (supply.entry == SupplyEntry::before_diode) {
    supply.drop_least_mv = element.uint("drop-least-millivolts", 0, 10000);
    supply.drop_most_mv = element.uint("drop-most-millivolts", 0, 10000);
    check_rising(element, "drop-least-millivolts", supply.drop_least_mv, supply.drop_most_mv,
                 "the least drop is above the most");
    return;
  }
  supply.drop_most_mv = element.uint("dropout-millivolts", 0, 10000);
  supply.output_min_mv = element.uint("output-min-millivolts", 0, 60000);
  supply.output_max_mv = element.uint("output-max-millivolts", 0, 60000);
  check_rising(element, "output-min-millivolts", supply.output_min_mv, supply.output_max_mv,
               "the regulator's lowest output is above its highest");
}

BoardSupply read_board_supply(const xml::Element& element) {
  constexpr xml::Word<SupplyEntry> entries[] = {
      {"at-device", SupplyEntry::at_device},
      {"before-diode", SupplyEntry::before_diode},
      {"before-regulator", SupplyEntry::before_regulator}};
  constexpr xml::Word<OwnSupply> owns[] = {
      {"none", OwnSupply::none}, {"battery", OwnSupply::battery}, {"mains", OwnSupply::mains}};
  BoardSupply supply;
  supply.entry = element.choice("entry", entries);
  supply.min_mv = element.uint("min-millivolts", 0, 60000);
  supply.max_mv = element.uint("max-millivolts", 0, 60000);
  supply.own = element.choice("own", owns);
  supply.source = read_source(element);
  supply.place = element.place();
  check_rising(element, "min-millivolts", supply.min_mv, supply.max_mv,
               "the board's lowest supply is above its highest");
  read_between(element, supply);
  return supply;
}

BoardLoad read_load(const xml::Element& element) {
  BoardLoad load;
  load.program_ma = element.uint("program-milliamps", 0, 100000);
  load.erase_ma = element.uint("erase-milliamps", 0, 100000);
  load.verify_ma = element.uint("verify-milliamps", 0, 100000);
  load.start_ma = element.uint("start-milliamps", 0, 100000);
  load.capacitance_uf = element.uint("capacitance-microfarads", 0, 100000);
  if (element.has("bleed-ohms")) {
    load.bleed_ohm = element.uint("bleed-ohms", 1, 1000000);
  }
  load.source = read_source(element);
  load.place = element.place();
  return load;
}

BoardCable read_cable(const xml::Element& element) {
  BoardCable cable;
  cable.length_mm = element.uint("length-millimetres", 0, 100000);
  const bool by_area = element.has("copper-square-micrometres");
  if (by_area) {
    cable.area_um2 = element.uint("copper-square-micrometres", 10000, 10000000);
  } else {
    cable.awg = element.uint("awg", 20, 34);
  }
  cable.hottest_c = element.uint("hottest-celsius", 0, 125);
  cable.source = read_source(element);
  cable.place = element.place();
  if (by_area && element.has("awg")) {
    element.refuse("awg", "the wire is stated twice", "awg and copper-square-micrometres",
                   "one of the two", "leave one of the two out");
  }
  return cable;
}

BoardContacts read_contacts(const xml::Element& element) {
  BoardContacts contacts;
  contacts.there = element.uint("there", 0, 8);
  contacts.back = element.uint("back", 0, 8);
  contacts.new_mohm = element.uint("new-milliohms", 0, 100000);
  contacts.worn_mohm = element.uint("worn-milliohms", 0, 100000);
  contacts.source = read_source(element);
  contacts.place = element.place();
  check_rising(element, "new-milliohms", contacts.new_mohm, contacts.worn_mohm,
               "a new contact has more resistance than a worn one");
  return contacts;
}

BoardSignals read_board_signals(const xml::Element& element) {
  BoardSignals signals;
  signals.high_min_mv = element.uint("high-min-millivolts", 0, 60000);
  signals.max_mv = element.uint("max-millivolts", 1, 60000);
  signals.over_device_mv = element.uint("over-device-millivolts", 0, 60000);
  signals.source = read_source(element);
  signals.place = element.place();
  check_rising(element, "high-min-millivolts", signals.high_min_mv, signals.max_mv,
               "a line would be damaged before it is high");
  return signals;
}

// Slots rising, each position once.
std::vector<PanelPlace> read_panel(const xml::Element& element) {
  std::vector<PanelPlace> panel;
  for (const xml::Element& one : element.many("place", 1, 32)) {
    PanelPlace place{one.uint("slot", 1, 32), one.display("position", 1, 8), one.place()};
    for (const PanelPlace& before : panel) {
      if (one.sound() && before.position == place.position) {
        one.refuse("position", "two slots have one position on the panel", place.position,
                   xml::joined({"another than in line ", std::to_string(before.place.line)}),
                   "look at the fixture's drawing");
      }
    }
    if (one.sound() && !panel.empty() && place.slot <= panel.back().slot) {
      one.refuse("slot", "slots of the panel are not in rising order", std::to_string(place.slot),
                 xml::joined({"above ", std::to_string(panel.back().slot)}),
                 "name each slot once, the lowest first");
    }
    panel.push_back(std::move(place));
  }
  return panel;
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
  board.supply = read_board_supply(root.one("supply"));
  board.load = read_load(root.one("load"));
  board.cable = read_cable(root.one("cable"));
  board.contacts = read_contacts(root.one("contacts"));
  board.signals = read_board_signals(root.one("signals"));
  if (const xml::Element clocks = root.maybe("clocks")) {
    board.clocks_source = read_source(clocks);
    for (const xml::Element& one : clocks.many("clock", 1, 8)) {
      board.clocks.push_back(one.id("id", 16));
    }
  }
  if (const xml::Element label = root.maybe("label")) {
    board.label_characters = label.uint("characters", 1, 64);
  }
  if (const xml::Element panel = root.maybe("panel")) {
    board.panel = read_panel(panel);
  }
  return reader.result(std::move(board));
}

} // namespace cardseal::profile
