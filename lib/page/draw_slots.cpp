#include "page/draw.h"

namespace cardseal::page {
namespace {

constexpr std::uint64_t pitch = 40; // from slot to slot
constexpr std::uint64_t slots_a_row = 8;
constexpr std::uint64_t row_pitch = 56;

} // namespace

void put_slots(Fields& page, std::uint32_t on, std::uint32_t of) {
  std::uint64_t count = 0;
  while (count < 32 && ((on | of) >> count) != 0) {
    ++count;
  }
  for (std::uint64_t slot = 0; slot < count; ++slot) {
    Fields& row = page.add("SLOT");
    row.set("X", slot % slots_a_row * pitch);
    row.set("Y", slot / slots_a_row * row_pitch);
    row.set("NUMBER", slot + 1);
    row.show((on >> slot & 1U) != 0 ? "ON" : "OFF");
  }
  page.set("SLOTS_WIDTH", (count < slots_a_row ? count : slots_a_row) * pitch);
  page.set("SLOTS_HEIGHT", (count + slots_a_row - 1) / slots_a_row * row_pitch);
}

} // namespace cardseal::page
