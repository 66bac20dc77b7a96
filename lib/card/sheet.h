// The words that go with a card: README.TXT for whoever finds it, SETUP.TXT for the floor. Plain
// ASCII with CR LF line ends, so that any machine shows them.
#pragma once

#include <string>

#include "card/order.h"
#include "package/package.h"

namespace cardseal::card {

struct SheetInput {
  const package::Package& package;
  const CardOrder& order;
  const format::StationFacts& station;
  const format::PlainFileFacts* plain = nullptr; // set for a plain-file card
  std::uint32_t enabled_slots = 0;
};

Try<std::string> setup_sheet(const SheetInput& input);
std::string readme(const SheetInput& input);

// "1 2 3 - 5 6": slots of the mask by number, '-' where one of `count` is off.
std::string slots_drawn(std::uint32_t mask, std::uint32_t count);
std::string volts(std::uint32_t millivolts); // "3.300 V"

} // namespace cardseal::card
