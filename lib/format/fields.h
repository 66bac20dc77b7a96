// The values that stand in sealed texts, in memory of fixed size: the same structs on desk and
// station. Grammar and tables: lib/format/SPEC.md.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "base/bytes.h"
#include "base/number.h"

namespace cardseal::format {

inline constexpr std::uint32_t max_facts = 98'304; // bytes of the text of kind facts

using Digest = std::array<std::uint8_t, 32>;
using Key = std::array<std::uint8_t, 32>; // an Ed25519 public key

// At most N bytes of text.
template <std::size_t N>
struct Text {
  std::array<char, N> bytes{};
  std::uint8_t size = 0;
  static_assert(N < 256);

  constexpr std::string_view view() const { return {bytes.data(), size}; }
  // False, and unchanged, when `text` is longer than N.
  constexpr bool set(std::string_view text) {
    if (text.size() > N) {
      return false;
    }
    bytes = {};
    for (std::size_t i = 0; i < text.size(); ++i) {
      bytes[i] = text[i];
    }
    size = static_cast<std::uint8_t>(text.size());
    return true;
  }
  friend constexpr bool operator==(const Text& a, const Text& b) { return a.view() == b.view(); }
};

// A value or none, spelled `-`.
template <class T>
struct Maybe {
  bool present = false;
  T value{};

  constexpr void set(T other) { present = true, value = other; }
  friend constexpr bool operator==(const Maybe&, const Maybe&) = default;
};

// At most N entries, in the order in which they stand.
template <class T, std::size_t N>
struct List {
  std::array<T, N> items{};
  std::uint16_t count = 0;

  static constexpr std::size_t capacity() { return N; }
  constexpr std::span<const T> view() const { return {items.data(), count}; }
  constexpr std::span<T> view() { return {items.data(), count}; }
  constexpr bool add(const T& item) {
    if (count == N) {
      return false;
    }
    items[count++] = item;
    return true;
  }
};

// What makes the lines of a list strictly ascending.
enum class Order : std::uint8_t {
  all_fields,  // one after the other, from the left
  first_field, // it alone: it names the item, so that none can stand twice
};

using Id = Text<16>;   // persons, products, schemes, regions, stations, models
using Name = Text<24>; // names of people, titles, files
// A path on the card in 8.3 names: upper case, `/` between folders, none in front.
using CardPath = Text<40>;

} // namespace cardseal::format
