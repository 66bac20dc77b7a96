// Which slot gets which number when every enabled slot holds a board: the lowest slot first, as
// lib/loader/cardseal_loader.h promises a station's maker.
#include "label/plan.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::label;

TEST_CASE("numbers go to the enabled slots in order, cycle by cycle") {
  registry::AllotmentRow row;
  row.enabled_slots = 0b1011'0100; // slots 3, 5, 6 and 8
  row.units = 10;
  const Spot expected[] = {{1, 3}, {1, 5}, {1, 6}, {1, 8}, {2, 3},
                           {2, 5}, {2, 6}, {2, 8}, {3, 3}, {3, 5}};
  for (std::uint64_t unit = 0; unit < 10; ++unit) {
    CHECK(planned_spot(row, unit) == expected[unit]);
  }
  row.enabled_slots = 0x8000'0000; // slot 32 alone
  CHECK(planned_spot(row, 0) == Spot{1, 32});
  CHECK(planned_spot(row, 4) == Spot{5, 32});
}

TEST_CASE("units that follow one another are one range") {
  const auto ranges =
      ranges_where(9, [](std::uint64_t unit) { return unit < 2 || unit == 4 || unit > 6; });
  CHECK(ranges == std::vector<registry::Range>{{0, 2}, {4, 1}, {7, 2}});
}
