#include "unit/check.h"

namespace cardseal::unit {
namespace {

using format::CheckKind;

// ISO/IEC 7064: digits, letters from A, and what stands for the value above them.
constexpr std::string_view values = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";

unsigned value_of(char c) {
  return static_cast<unsigned>(c <= '9' ? c - '0' : c - 'A' + 10);
}

char digit(unsigned value) {
  return static_cast<char>('0' + value);
}

// Digits from the right times `near` and `next` by turns; a product of two digits counts as their
// sum where `cross` is set.
char weighted(std::string_view text, unsigned near, unsigned next, bool cross) {
  unsigned sum = 0;
  for (std::size_t i = text.size(); i-- > 0;) {
    const bool nearest = (text.size() - 1 - i) % 2 == 0;
    const unsigned product = value_of(text[i]) * (nearest ? near : next);
    sum += cross && product > 9 ? product - 9 : product;
  }
  return digit((10 - sum % 10) % 10);
}

unsigned pure(std::string_view text, unsigned modulus, unsigned radix) {
  unsigned product = 0;
  for (const char c : text) {
    product = (product + value_of(c)) * radix % modulus;
  }
  return (modulus + 1 - product) % modulus;
}

unsigned hybrid(std::string_view text, unsigned modulus) {
  unsigned product = modulus;
  for (const char c : text) {
    const unsigned sum = (product + value_of(c)) % modulus;
    product = (sum == 0 ? modulus : sum) * 2 % (modulus + 1);
  }
  return (modulus + 1 - product) % modulus;
}

unsigned tens_of_97(std::string_view text) {
  unsigned rest = 0;
  for (const char c : text) {
    rest = (rest * 10 + value_of(c)) % 97;
  }
  return 98 - rest * 100 % 97;
}

char damm(std::string_view text) {
  constexpr std::array<std::string_view, 10> table{
      "0317598642", "7092154863", "4206871359", "1750983426", "6123045978",
      "3674209581", "5869720134", "8945362017", "9438617205", "2581436790"};
  char interim = '0';
  for (const char c : text) {
    interim = table[value_of(interim)][value_of(c)];
  }
  return interim;
}

// The dihedral group of order 10: 0 to 4 turn, 5 to 9 turn and flip.
unsigned dihedral(unsigned a, unsigned b) {
  const unsigned turn = a < 5 ? a + b : a + 5 - b % 5;
  return turn % 5 + ((a < 5) == (b < 5) ? 0 : 5);
}

unsigned permuted(unsigned value, std::size_t times) {
  constexpr std::string_view once = "1576283094";
  for (; times > 0; --times) {
    value = value_of(once[value]);
  }
  return value;
}

char verhoeff(std::string_view text) {
  unsigned product = 0;
  for (std::size_t i = text.size(); i-- > 0;) {
    product = dihedral(product, permuted(value_of(text[i]), (text.size() - i) % 8));
  }
  return digit(product < 5 ? (5 - product) % 5 : product); // its inverse
}

} // namespace

bool check_characters(CheckKind kind, std::string_view text, std::array<char, 2>& out) {
  for (const char c : text) {
    if (!format::covers(kind, c)) {
      return false;
    }
  }
  switch (kind) {
  case CheckKind::luhn:
    out[0] = weighted(text, 2, 1, true);
    return true;
  case CheckKind::mod_11_2: {
    const unsigned value = pure(text, 11, 2);
    out[0] = value == 10 ? 'X' : digit(value);
    return true;
  }
  case CheckKind::mod_37_2:
    out[0] = values[pure(text, 37, 2)];
    return true;
  case CheckKind::mod_97_10: {
    const unsigned value = tens_of_97(text);
    out = {digit(value / 10), digit(value % 10)};
    return true;
  }
  case CheckKind::mod_11_10:
    out[0] = digit(hybrid(text, 10));
    return true;
  case CheckKind::mod_37_36:
    out[0] = values[hybrid(text, 36)];
    return true;
  case CheckKind::gs1_mod_10:
    out[0] = weighted(text, 3, 1, false);
    return true;
  case CheckKind::damm:
    out[0] = damm(text);
    return true;
  case CheckKind::verhoeff:
    out[0] = verhoeff(text);
    return true;
  }
  return false;
}

} // namespace cardseal::unit
