#include "card/sheet.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

std::string of_millionths(std::uint32_t ppm) { // 980000 is 98 %
  return card::thousandths(ppm / 10) + " %";
}

} // namespace

void put_steps(Fields& page, const format::Facts& f) {
  std::size_t index = 0;
  for (const format::WorkStep& s : f.work_steps.view()) {
    Fields& row = page.add("STEP");
    row.set("AT", index++);
    row.set("NUMBER", s.index);
    row.set("NAME", s.name.view());
    row.set("ON_THE_FLOOR", card::step_words(s));
    row.set("WHY", s.reason.view());
  }
}

void put_panel(Fields& page, const format::Facts& f, std::uint32_t slots) {
  Fields table;
  std::size_t index = 0;
  for (const format::PanelPlace& p : f.panel.view()) {
    const std::size_t at = index++;
    if ((slots >> (p.slot - 1) & 1U) == 0) {
      continue;
    }
    Fields& row = table.add("PLACE");
    row.set("AT", at);
    row.set("SLOT_NUMBER", p.slot);
    row.set("POSITION", p.position.view());
  }
  if (!table.sections().empty()) {
    page.add("PANEL") = std::move(table);
  }
}

void put_work(Fields& page, const format::Facts& f) {
  put_steps(page, f);
  put_panel(page, f, 0xFFFF'FFFF);
}

void put_times(Fields& page, const format::Facts& f) {
  if (f.cycles.count == 0) {
    return page.show("NO_TIMES");
  }
  Fields& table = page.add("TIMES");
  table.set("GOOD_BOARDS", f.lot.good_boards);
  table.set("YIELD", of_millionths(f.lot.yield_ppm));
  table.set("YIELD_PPM", f.lot.yield_ppm);
  table.set("SLOWEST", of_millionths(f.lot.slowest_ppm));
  table.set("SLOWEST_PPM", f.lot.slowest_ppm);
  table.set("SET_UP", duration(std::uint64_t{f.lot.set_up_s} * 1'000'000));
  table.set("SET_UP_S", f.lot.set_up_s);
  std::size_t index = 0;
  for (const format::CycleFacts& c : f.cycles.view()) {
    Fields& row = table.add("CYCLE");
    row.set("AT", index++);
    row.set("MODEL", c.model.view());
    row.set("SLOTS_FILLED", c.slots);
    row.set("BOARD", duration(c.board_us));
    row.set("BOARD_US", c.board_us);
    row.set("CYCLE_TIME", duration(c.cycle_us));
    row.set("CYCLE_US", c.cycle_us);
    row.set("BOARDS", c.boards);
    row.set("LOT", duration(c.lot_us));
    row.set("LOT_US", c.lot_us);
  }
}

} // namespace cardseal::page
