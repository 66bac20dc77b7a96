#include "supply/quantity.h"

#include <algorithm>

namespace cardseal::supply {
namespace {

constexpr std::string_view id_characters = "abcdefghijklmnopqrstuvwxyz0123456789-";

bool is_letter(char c) {
  return c >= 'a' && c <= 'z';
}

bool contains(const std::vector<std::string_view>& ids, std::string_view id) {
  return std::find(ids.begin(), ids.end(), id) != ids.end();
}

const Quantity* find_any(const Sheet& sheet, std::string_view id) {
  const auto at = std::find_if(sheet.begin(), sheet.end(),
                               [&](const Quantity& quantity) { return quantity.id == id; });
  return at == sheet.end() ? nullptr : &*at;
}

void add_with_causes(const Sheet& sheet, std::string_view formula,
                     std::vector<std::string_view>& found) {
  for (const std::string_view id : ids_in(formula)) {
    if (contains(found, id)) {
      continue;
    }
    found.push_back(id);
    if (const Quantity* quantity = find_any(sheet, id)) {
      add_with_causes(sheet, quantity->formula, found);
    }
  }
}

} // namespace

const Quantity* find(const Sheet& sheet, std::string_view id, Phase phase) {
  const Quantity* common = nullptr;
  for (const Quantity& quantity : sheet) {
    if (quantity.id != id) {
      continue;
    }
    if (quantity.phase == phase) {
      return &quantity;
    }
    if (quantity.phase == Phase::all) {
      common = &quantity;
    }
  }
  return common;
}

std::vector<std::string_view> ids_in(std::string_view formula) {
  std::vector<std::string_view> ids;
  std::size_t at = 0;
  while (at < formula.size()) {
    std::size_t end = formula.find_first_not_of(id_characters, at);
    end = end == std::string_view::npos ? formula.size() : end;
    const std::string_view word = formula.substr(at, end - at);
    const bool is_function = end < formula.size() && formula[end] == '(';
    if (!word.empty() && is_letter(word[0]) && !is_function && !contains(ids, word)) {
      ids.push_back(word);
    }
    at = end + 1;
  }
  return ids;
}

std::vector<std::string_view> givens_of(const Sheet& sheet, std::string_view formula) {
  std::vector<std::string_view> found;
  add_with_causes(sheet, formula, found);
  std::vector<std::string_view> givens;
  for (const Quantity& quantity : sheet) {
    if (quantity.formula.empty() && contains(found, quantity.id) &&
        !contains(givens, quantity.id)) {
      givens.push_back(quantity.id);
    }
  }
  return givens;
}

std::optional<OutOfRange> first_out_of_range(const std::vector<Given>& givens) {
  for (const Given& given : givens) {
    if (given.value < given.least || given.value > given.most) {
      return OutOfRange{given.id, given.value, given.least, given.most};
    }
  }
  return std::nullopt;
}

} // namespace cardseal::supply
