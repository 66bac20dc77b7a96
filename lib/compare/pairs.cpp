#include "compare/pairs.h"

#include <algorithm>

namespace cardseal::compare {
namespace {

using Same = bool (*)(Use use);

bool names_it(Use use) {
  return use == Use::names;
}
bool counts(Use use) {
  return use != Use::position;
}

bool equal_in(const Line& a, const Line& b, const Row& row, Same same) {
  for (std::size_t i = 0; i < a.fields.size(); ++i) {
    if (same(row.fields[i].use) && a.fields[i] != b.fields[i]) {
      return false;
    }
  }
  return true;
}

// Takes out of `from`, and gives back, the first item that goes with `line`; else null.
const Line* take(std::vector<const Line*>& from, const Line& line, const Row& row, Same same) {
  const auto found = std::ranges::find_if(
      from, [&](const Line* other) { return equal_in(line, *other, row, same); });
  if (found == from.end()) {
    return nullptr;
  }
  const Line* out = *found;
  from.erase(found);
  return out;
}

} // namespace

std::vector<Pair> pairs(const std::vector<const Line*>& a, const std::vector<const Line*>& b,
                        const Row& row) {
  std::vector<const Line*> left_a;
  std::vector<const Line*> left_b = b;
  for (const Line* line : a) {
    if (take(left_b, *line, row, counts) == nullptr) {
      left_a.push_back(line);
    }
  }
  std::vector<Pair> out;
  out.reserve(left_a.size() + left_b.size());
  for (const Line* line : left_a) {
    out.push_back({line, take(left_b, *line, row, names_it)});
  }
  for (const Line* line : left_b) {
    out.push_back({nullptr, line});
  }
  return out;
}

} // namespace cardseal::compare
