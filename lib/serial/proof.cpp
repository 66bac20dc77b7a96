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
  void add_sample(std::uint64_t ordinal) {
    if (!reasons_.contains(ordinal)) {
      add(ordinal, "sample");
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

// The next number above `number` that `unit` divides; false when it does not fit 64 bits, or when
// the unit is that of a part without a base.
bool next_multiple(std::uint64_t number, std::uint64_t unit, std::uint64_t& next) {
  return unit != 0 && !__builtin_add_overflow(number - number % unit, unit, &next);
}

// The first carry into each place of a number written in `base`: a place that counts for the first
// time, or one that goes up by one.
void add_carries(std::uint64_t base, std::uint32_t places, const char* place,
                 std::uint64_t first_number, Chosen& chosen) {
  std::uint64_t unit = 1;
  for (std::uint32_t each = 2; each <= places; ++each) {
    std::uint64_t next = 0;
    if (__builtin_mul_overflow(unit, base, &unit) || !next_multiple(first_number, unit, next)) {
      return;
    }
    const std::string name = xml::joined({place, " ", std::to_string(each)});
    chosen.add_edge(next, next == unit ? xml::joined({name, " counts"})
                                       : xml::joined({"a carry into ", name}));
  }
}

// Where the lowest digit goes from 9 to a letter, or to whatever the alphabet has after ten.
void add_tenth(const format::Part& part, std::uint64_t first_number, Chosen& chosen) {
  const std::uint64_t base = part.base.value;
  if (base <= 10) {
    return;
  }
  const std::uint64_t in_place = first_number % base;
  std::uint64_t at = 0;
  if (!__builtin_add_overflow(first_number - in_place, in_place < 10 ? 10 : base + 10, &at)) {
    chosen.add_edge(at, "the eleventh digit of the alphabet");
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
      add_carries(part.base.value, part.width.value, "digit", number, chosen);
      add_tenth(part, number, chosen);
    }
  }
  add_carries(256, 8, "byte", number, chosen);
  for (const format::ExcludedRange& range : serials.excluded) {
    chosen.add_edge(range.first,
                    xml::joined({"the numbers left out from ", std::to_string(range.first)}));
  }
  for (std::uint64_t i = 1; i <= samples; ++i) {
    chosen.add_sample(first + (last - first) / (samples + 1) * i);
  }
  chosen.add(last, "last");
  return chosen.units();
}

} // namespace cardseal::serial
