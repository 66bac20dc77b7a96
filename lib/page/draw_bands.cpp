#include <algorithm>

#include "page/draw.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

constexpr std::uint64_t scale_from = 12; // units of the drawing
constexpr std::uint64_t scale_width = 336;
constexpr std::uint64_t row_height = 29;  // a line of words, then the line that is drawn
constexpr std::uint64_t foot_height = 20; // the scale's numbers

bool is_voltage(const format::MarginFacts& m) {
  return m.unit == format::MarginUnit::microvolts && m.value.present;
}

// A limit from above, or from below; where the worst is the limit itself either is right.
bool is_most(const format::MarginFacts& m) {
  const bool holds = m.standing == format::Standing::holds;
  return holds == (m.value.value.value <= m.limit);
}

class Scale {
public:
  explicit Scale(const format::Facts& facts) {
    for (const format::MarginFacts& m : facts.margins.view()) {
      most_ = is_voltage(m) ? std::max({most_, m.limit, m.value.value.value}) : most_;
    }
    most_ = (most_ / volt + 1) * volt;
  }
  std::uint64_t at(std::uint64_t microvolts) const { // most_ is below 2^50
    return scale_from + microvolts * scale_width / most_;
  }
  std::uint64_t volts() const { return most_ / volt; }

  static constexpr std::uint64_t volt = 1'000'000;

private:
  std::uint64_t most_ = 0;
};

void put_row(Fields& phase, const format::MarginFacts& m, const Scale& scale, std::uint64_t y) {
  const std::uint64_t limit = scale.at(m.limit);
  const std::uint64_t worst = scale.at(m.value.value.value);
  Fields& row = phase.add("BAND");
  row.set("Y", y);
  row.set("NAME", words_of("margin", m.id.view()));
  row.set("LIMIT_X", limit);
  row.set("WORST_X", worst);
  row.set("FROM_X", std::min(limit, worst));
  row.set("BETWEEN", std::max(limit, worst) - std::min(limit, worst));
  row.set("OUT_X", is_most(m) ? limit : scale_from);
  row.set("OUT_WIDTH", is_most(m) ? scale_from + scale_width - limit : limit - scale_from);
  row.set("DISTANCE", quantity(m.value.value.distance, m.unit));
  row.show(m.standing == format::Standing::holds ? "HOLDS" : "MISSES");
}

void put_ticks(Fields& phase, const Scale& scale, std::uint64_t height) {
  const std::uint64_t step = scale.volts() / 8 + 1;
  for (std::uint64_t volt = 0; volt <= scale.volts(); volt += step) {
    Fields& tick = phase.add("TICK");
    tick.set("X", scale.at(volt * Scale::volt));
    tick.set("VOLTS", volt);
  }
  phase.set("BOTTOM", height);
  phase.set("HEIGHT", height + foot_height);
}

void put_phase(Fields& page, const format::Facts& facts, format::SupplyPhase phase,
               const Scale& scale) {
  Fields drawing;
  std::uint64_t y = 0;
  for (const format::MarginFacts& m : facts.margins.view()) {
    if (m.phase == phase && is_voltage(m)) {
      put_row(drawing, m, scale, y);
      y += row_height;
    }
  }
  if (y != 0) {
    drawing.set("PHASE", words_of("phase", phase, format::supply_phase_words));
    put_ticks(drawing, scale, y);
    page.add("BANDS") = std::move(drawing);
  }
}

} // namespace

void put_bands(Fields& page, const format::Facts& facts) {
  const Scale scale(facts);
  for (std::size_t phase = 0; phase < format::supply_phase_words.size(); ++phase) {
    put_phase(page, facts, static_cast<format::SupplyPhase>(phase), scale);
  }
}

} // namespace cardseal::page
