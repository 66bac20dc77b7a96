#include <algorithm>

#include <fmt/format.h>

#include "card/sheet.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {

void put_deviations(Fields& page, const format::Facts& facts) {
  if (facts.deviations.count == 0) {
    return page.show("NO_DEVIATIONS");
  }
  Fields& table = page.add("DEVIATIONS");
  std::size_t index = 0;
  for (const format::Deviation& d : facts.deviations.view()) {
    Fields& row = table.add("DEVIATION");
    row.set("AT", index++);
    row.set("NUMBER", d.number.view());
    row.set("RULE", d.rule.view());
    row.set("BOARDS", d.boards);
    row.set("EXPIRES", time_words(d.expires));
    row.set("UNTIL", time_words(d.expires).substr(0, 10));
    row.set("REASON", d.reason.view());
  }
}

// The gravest first, whatever their place in the facts.
void put_findings(Fields& page, const format::Facts& facts) {
  put_deviations(page, facts);
  page.set("FINDINGS_COUNTED", facts.findings_counted);
  if (facts.findings.count == 0) {
    return page.show("NO_FINDINGS");
  }
  Fields& table = page.add("FINDINGS");
  for (std::size_t level = format::level_words.size(); level-- != 0;) {
    std::size_t index = 0;
    for (const format::FindingFacts& finding : facts.findings.view()) {
      const std::size_t at = index++;
      if (static_cast<std::size_t>(finding.level) != level) {
        continue;
      }
      Fields& row = table.add("FINDING");
      row.set("AT", at);
      row.set("LEVEL", words_of("level", finding.level, format::level_words));
      row.set("LEVEL_SEALED", format::level_words[level]);
      row.set("RULE", finding.rule.view());
      row.set("TEXT", finding.text.view());
      row.show(finding.level == format::Level::note ? "MILD" : "GRAVE");
    }
  }
  if (facts.findings_counted > facts.findings.count) {
    table.add("NOT_KEPT").set("COUNT", facts.findings_counted - facts.findings.count);
  }
}

// Where the supply stands on the drawing of what the board takes (supply-band.html): the band from
// 60 to 260 of 320.
std::uint64_t band_place(std::uint64_t millivolts, const format::SupplyFacts& limits) {
  constexpr std::uint64_t from = 60;
  constexpr std::uint64_t width = 200;
  const std::uint64_t low = limits.board_low;
  const std::uint64_t span = std::max<std::uint64_t>(limits.board_high, low + 1) - low;
  if (millivolts < low) {
    return 0;
  }
  return std::min(from + (millivolts - low) * width / span, from + width + from);
}

// Facts don't say whether a board has a supply of its own; a station that feeds one that has is
// refused when the release is packed.
void put_cautions(Fields& page, const package::Package& package) {
  const format::Manifest& m = package.manifest;
  page.set("BOARD_LOW", card::volts(package.facts.supply.board_low));
  page.set("BOARD_HIGH", card::volts(package.facts.supply.board_high));
  Fields& meter = page.add(m.supply_source == format::SupplySource::station ? "STATION_SUPPLIES"
                                                                            : "BOARD_SUPPLIES");
  meter.set("SUPPLY", card::volts(m.supply_mv));
  meter.set("SET_X", band_place(m.supply_mv, package.facts.supply));
}

} // namespace cardseal::page
