#include "serial/proof.h"

#include <map>

#include "xml/join.h"

namespace cardseal::serial {
namespace {

constexpr std::uint64_t samples = 8;

class Chosen {
public:
  Chosen(const unit::Serials& serials, std::uint64_t first, std::uint64_t last)
      : serials_(serials), first_(first), last_(last) {}

  void add(std::uint64_t ordinal, const std::string& why) {
    if (ordinal >= first_ && ordinal <= last_) {
      std::string& reasons = reasons_[ordinal];
      reasons += xml::joined({reasons.empty() ? "" : "; ", why});
    }
  }
  // The units on both sides of the step to `number`.
  void add_edge(std::uint64_t number, const std::string& what) {
    const std::uint64_t at = first_with(number);
    if (at > first_ && at <= last_) {
      add(at - 1, "before " + what);
      add(at, "after " + what);
    }
  }
  std::vector<ProofUnit> units() const {
    std::vector<ProofUnit> out;
    for (const auto& [ordinal, why] : reasons_) {
      out.push_back({ordinal, why});
    }
    return out;
  }

private:
  // The lowest ordinal of the range whose number is at least this; past the range when none is.
  std::uint64_t first_with(std::uint64_t number) const {
    std::uint64_t low = first_;
    std::uint64_t high = last_ + 1;
    while (low < high) {
      const std::uint64_t middle = low + (high - low) / 2;
      std::uint64_t found = 0;
      const bool below = unit::number_of(serials_, middle, found).ok() && found < number;
      (below ? low : high) = below ? middle + 1 : middle;
    }
    return low;
  }

  const unit::Serials& serials_;
  std::uint64_t first_;
  std::uint64_t last_;
  std::map<std::uint64_t, std::string> reasons_;
};

// The first time each digit counts, and the first turn of the lowest.
void add_carries(const format::Part& part, std::uint64_t first_number, Chosen& chosen) {
  const std::uint64_t base = part.base.value;
  chosen.add_edge(first_number - first_number % base + base, "the first carry");
  std::uint64_t power = 1;
  for (std::uint32_t digits = 2; digits <= part.width.value; ++digits) {
    if (__builtin_mul_overflow(power, base, &power)) {
      return;
    }
    chosen.add_edge(power, xml::joined({"digit ", std::to_string(digits), " counts"}));
  }
}

} // namespace

std::vector<ProofUnit> proof_units(const unit::Serials& serials, std::uint64_t first,
                                   std::uint64_t last) {
  Chosen chosen(serials, first, last);
  chosen.add(first, "first");
  std::uint64_t number = 0;
  if (!unit::number_of(serials, first, number).ok()) {
    return {};
  }
  for (const format::Part& part : serials.parts) {
    if (part.kind == format::PartKind::number) {
      add_carries(part, number, chosen);
    }
  }
  for (unsigned bytes = 1; bytes < 8; ++bytes) {
    chosen.add_edge(std::uint64_t{1} << (8 * bytes),
                    xml::joined({"byte ", std::to_string(bytes + 1), " counts"}));
  }
  for (const format::ExcludedRange& range : serials.excluded) {
    chosen.add_edge(range.first,
                    xml::joined({"the numbers left out from ", std::to_string(range.first)}));
  }
  for (std::uint64_t i = 1; i <= samples; ++i) {
    chosen.add(first + (last - first) / (samples + 1) * i, "sample");
  }
  chosen.add(last, "last");
  return chosen.units();
}

} // namespace cardseal::serial
