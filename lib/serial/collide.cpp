#include "serial/collide.h"

#include <algorithm>
#include <numeric>
#include <vector>

#include "base/bytes.h"
#include "xml/join.h"

namespace cardseal::serial {
namespace {

using format::PartKind;

struct Run { // first, first + step, ... last: numbers of one range between two excluded ones
  std::uint64_t first = 0;
  std::uint64_t last = 0;
  std::uint64_t step = 1;
};

// The lowest of both, by the Chinese remainder theorem. Steps are below 10^6, so that nothing here
// passes 64 bits: a number is at most 10^19 - 1, a common step below 10^12.
std::optional<std::uint64_t> meet(const Run& a, const Run& b) {
  const std::uint64_t low = std::max(a.first, b.first);
  const std::uint64_t high = std::min(a.last, b.last);
  const std::uint64_t divisor = std::gcd(a.step, b.step);
  if (low > high || a.first % divisor != b.first % divisor) {
    return std::nullopt;
  }
  const std::uint64_t modulus = b.step / divisor;
  std::uint64_t steps = 0; // of a's, until b's remainder is met: at most b.step / divisor
  const std::uint64_t wanted = b.first % b.step;
  for (std::uint64_t at = a.first % b.step; at != wanted; at = (at + a.step) % b.step) {
    if (++steps > modulus) {
      return std::nullopt;
    }
  }
  const std::uint64_t common = a.step * modulus;
  const std::uint64_t remainder = (a.first % common + a.step * steps) % common;
  const std::uint64_t found = low + (remainder + common - low % common) % common;
  return found <= high ? std::optional(found) : std::nullopt;
}

std::vector<Run> runs_of(const UnitRange& range) {
  const std::uint64_t step = range.serials.scheme.step;
  std::uint64_t first = 0;
  std::uint64_t last = 0;
  std::vector<Run> out;
  if (!unit::number_of(range.serials, range.first, first).ok() ||
      !unit::number_of(range.serials, range.last, last).ok()) {
    return out;
  }
  for (const format::ExcludedRange& left_out : range.serials.excluded) {
    if (left_out.last < first || left_out.first > last) {
      continue;
    }
    const std::uint64_t inside = left_out.first - first; // `first` itself is never left out
    if (inside > 0) {
      out.push_back({first, first + (inside - 1) / step * step, step});
    }
    first += ((left_out.last - first) / step + 1) * step; // not past `last`, which is not left out
  }
  out.push_back({first, last, step});
  return out;
}

// What can stand at one place of a text; a check is named by its kind and what it covers.
struct PlacedText {
  std::string characters; // empty: any
  const format::Part* number = nullptr;
  const format::Part* check = nullptr;
  std::size_t within = 0; // of the part
  std::size_t covered_from = 0;
};

std::string check_gives(const format::Part& part) {
  std::string out(format::standard_digits.substr(0, 10));
  switch (part.check.value.kind) {
  case format::CheckKind::mod_11_2:
    return out + "X";
  case format::CheckKind::mod_37_2:
    return std::string(format::standard_digits) + "*";
  case format::CheckKind::mod_37_36:
    return std::string(format::standard_digits);
  default:
    return out;
  }
}

std::vector<PlacedText> places_of(const unit::Serials& serials) {
  std::vector<PlacedText> out;
  std::vector<std::size_t> starts;
  for (const format::Part& part : serials.parts) {
    starts.push_back(out.size());
    for (std::size_t i = 0; i < format::part_length(part); ++i) {
      PlacedText place;
      place.within = i;
      if (part.kind == PartKind::literal) {
        place.characters = part.literal.value.view()[i];
      } else if (part.kind == PartKind::work_class) {
        place.characters = part.literal.value.view();
      } else if (part.kind == PartKind::number) {
        place.characters = slice(format::digits_of(serials.alphabet), 0, part.base.value);
        place.number = &part;
      } else if (part.kind == PartKind::check) {
        place.characters = check_gives(part);
        place.check = &part;
        place.covered_from = starts[part.check.value.from - 1U];
      }
      out.push_back(place);
    }
  }
  return out;
}

bool disjoint(const PlacedText& a, const PlacedText& b) {
  return !a.characters.empty() && !b.characters.empty() &&
         a.characters.find_first_of(b.characters) == std::string::npos;
}

bool same_number(const PlacedText& a, const PlacedText& b) {
  return (a.number == nullptr) == (b.number == nullptr) &&
         (a.number == nullptr || (a.within == b.within && a.characters == b.characters &&
                                  a.number->width.value == b.number->width.value));
}

bool same_check(const PlacedText& a, const PlacedText& b) {
  return (a.check == nullptr) == (b.check == nullptr) &&
         (a.check == nullptr || (a.within == b.within && a.covered_from == b.covered_from &&
                                 a.check->check.value.kind == b.check->check.value.kind));
}

} // namespace

std::optional<Meeting> common_number(const UnitRange& a, const UnitRange& b) {
  std::optional<std::uint64_t> lowest;
  for (const Run& one : runs_of(a)) {
    for (const Run& other : runs_of(b)) {
      const std::optional<std::uint64_t> number = meet(one, other);
      if (number && (!lowest || *number < *lowest)) {
        lowest = number;
      }
    }
  }
  Meeting meeting;
  const bool found = lowest && unit::ordinal_of_number(a.serials, *lowest, meeting.a).ok() &&
                     unit::ordinal_of_number(b.serials, *lowest, meeting.b).ok();
  meeting.number = lowest.value_or(0);
  return found ? std::optional(meeting) : std::nullopt;
}

bool can_begin_with(const unit::Serials& serials, std::string_view prefix) {
  const std::vector<PlacedText> places = places_of(serials);
  for (std::size_t i = 0; i < std::min(places.size(), prefix.size()); ++i) {
    if (!places[i].characters.empty() &&
        places[i].characters.find(prefix[i]) == std::string::npos) {
      return false;
    }
  }
  return true;
}

TextCollision common_text(const UnitRange& a, const UnitRange& b) {
  const std::vector<PlacedText> one = places_of(a.serials);
  const std::vector<PlacedText> other = places_of(b.serials);
  if (one.size() != other.size()) {
    return {TextAnswer::never, std::nullopt,
            xml::joined({"the texts have ", std::to_string(one.size()), " and ",
                         std::to_string(other.size()), " characters"})};
  }
  bool numbers = true;
  bool checks = true;
  for (std::size_t i = 0; i < one.size(); ++i) {
    if (disjoint(one[i], other[i])) {
      return {TextAnswer::never, std::nullopt,
              xml::joined({"character ", std::to_string(i + 1), " is never the same"})};
    }
    numbers = numbers && same_number(one[i], other[i]);
    checks = checks && same_check(one[i], other[i]);
  }
  if (!numbers) {
    return {TextAnswer::not_excluded, std::nullopt,
            "the numbers stand at different places of the text, or in other digits"};
  }
  const std::optional<Meeting> meeting = common_number(a, b);
  if (!meeting) {
    return {TextAnswer::never, std::nullopt, "the ranges have no number in common"};
  }
  if (!checks) {
    return {TextAnswer::not_excluded, std::nullopt,
            xml::joined({"number ", std::to_string(meeting->number),
                         " is in both ranges, and their checks differ"})};
  }
  return {TextAnswer::can, meeting,
          xml::joined({"number ", std::to_string(meeting->number), " is in both ranges"})};
}

} // namespace cardseal::serial
