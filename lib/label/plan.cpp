#include "label/plan.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "trace/trace.h"

namespace cardseal::label {
namespace {

std::string field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) {
    return text;
  }
  std::string out = "\"";
  for (const char c : text) {
    out += c == '"' ? "\"\"" : std::string(1, c);
  }
  return out + '"';
}

} // namespace

Spot planned_spot(const registry::AllotmentRow& row, std::uint64_t unit) {
  const auto slots = static_cast<std::uint64_t>(__builtin_popcountll(row.enabled_slots));
  std::uint64_t left = unit % slots;
  unsigned slot = 1;
  while ((row.enabled_slots >> (slot - 1) & 1U) == 0 || left-- != 0) {
    ++slot;
  }
  return {unit / slots + 1, slot};
}

std::vector<registry::Range> ranges_where(std::uint64_t units,
                                          const std::function<bool(std::uint64_t)>& fits) {
  std::vector<registry::Range> ranges;
  for (std::uint64_t unit = 0; unit < units; ++unit) {
    if (!fits(unit)) {
      continue;
    }
    if (!ranges.empty() && ranges.back().past() == unit) {
      ++ranges.back().count;
    } else {
      ranges.push_back({unit, 1});
    }
  }
  return ranges;
}

std::string csv_head() {
  return "cycle,slot,label,card,work-order\r\n";
}

std::string csv_lines(const package::Package& package, const registry::AllotmentRow& row,
                      const std::vector<registry::Range>& units) {
  std::string out;
  for (const registry::Range& range : units) {
    for (std::uint64_t unit = range.first; unit < range.past(); ++unit) {
      const Spot spot = planned_spot(row, unit);
      out += fmt::format("{},{},{},{},{}\r\n", spot.cycle, spot.slot,
                         field(trace::label_of({&package}, row, unit)), crypto::hex(row.card),
                         field(row.work_order));
    }
  }
  return out;
}

} // namespace cardseal::label
