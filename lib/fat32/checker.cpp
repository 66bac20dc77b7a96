#include "fat32/checker.h"

#include "fat32/check_parts.h"

namespace cardseal::fat32 {

std::string hex_text(std::uint32_t value) {
  char digits[8];
  const std::size_t count = value > 0xFFFF ? 8 : (value > 0xFF ? 4 : 2);
  std::string text = "0x";
  text.append(digits, spell_hex(value, count, digits));
  return text;
}

void Check::add(const Rule& rule, Spot spot, std::string text) {
  Place place;
  place.file = source.name();
  place.item = "sector " + std::to_string(spot.lba) + ", offset " + std::to_string(spot.offset);
  report.findings.add(rule, std::move(text), std::move(place));
}

Try<CheckReport> check_volume(SectorSource& source) {
  CheckReport report;
  Check check{source, report};
  Try<bool> more = check_boot(check);
  std::vector<std::uint32_t> fat;
  if (more && *more) {
    more = check_fats(check, fat);
  }
  if (!more) {
    return Unexpected(std::move(more.error()));
  }
  if (*more) {
    if (Try<void> done = check_tree(check, fat); !done) {
      return Unexpected(std::move(done.error()));
    }
  }
  return report;
}

} // namespace cardseal::fat32
