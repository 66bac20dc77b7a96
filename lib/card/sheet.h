// The words that go with a card: README.TXT for whoever finds it, SETUP.TXT for the floor. Plain
// ASCII with CR LF line ends, so that any machine shows them.
#pragma once

#include <string>

#include "card/order.h"
#include "package/package.h"

namespace cardseal::card {

struct SheetInput { // of one job
  const package::Package& package;
  const CardOrder& order;
  const format::StationFacts& station;
  const format::PlainFileFacts* plain = nullptr; // set for a plain-file card
  std::uint32_t enabled_slots = 0;
};

// Of all jobs on a card, in their order; one at least. Of several, each has a sheet of its own
// under the list of them.
Try<std::string> setup_sheet(const std::vector<SheetInput>& jobs);
std::string readme(const std::vector<SheetInput>& jobs);
// On a signed card without a log, for whoever looks for one.
inline constexpr std::string_view no_log_note =
    "This card has no run log, and its station writes none: two people count the boards\r\n"
    "and write the hand tally of SETUP.TXT. A station that writes a log refuses this card "
    "(508).\r\n";

// "1, 3; OFF: 2, 4": the enabled ones, and the others of `of` (bit 0 is slot 1).
std::string slot_words(std::uint32_t enabled, std::uint32_t of);
// Four hex digits for 16-bit sums, else eight: as stations and data sheets print them.
std::string checksum_digits(std::string_view name, std::uint32_t value);
// A step of the order of work as the floor reads it: what a person has to do where the station
// can't.
std::string step_words(const format::WorkStep& step);
std::string volts(std::uint32_t millivolts);  // "3.300 V"
std::string thousandths(std::uint64_t value); // 3162500 is "3162.5"

} // namespace cardseal::card
