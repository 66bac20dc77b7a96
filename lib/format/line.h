// How a kind describes its lines, so that one description serves reader, writer and printed table.
#pragma once

#include "format/fields.h"

namespace cardseal::format {

enum class YesNo : std::uint8_t { no, yes };
inline constexpr std::array<std::string_view, 2> yes_no_words{"no", "yes"};
constexpr bool is_yes(YesNo value) {
  return value == YesNo::yes;
}

// One line: the key, then what `fields` reads or writes.
template <class V, class F>
void line(V& v, std::string_view key, F fields) {
  v.begin(key);
  fields();
  v.end();
}

// `<counter> N`, then N lines `<key> ...`, strictly ascending.
template <class V, class T, std::size_t N, class F>
void lines(V& v, std::string_view counter, std::string_view key, List<T, N>& list, F fields,
           std::uint16_t at_least = 0, Order order = Order::all_fields) {
  std::uint16_t count = list.count;
  line(v, counter, [&] { v.count(count, at_least, N); });
  list.count = !v.ok() ? 0 : count < N ? count : static_cast<std::uint16_t>(N);
  v.begin_list();
  for (std::uint16_t i = 0; i < list.count && v.ok(); ++i) {
    v.begin(key);
    fields(list.items[i]);
    v.end();
    v.end_item(order);
  }
}

template <class V>
void yes_no_line(V& v, std::string_view key, YesNo& value) {
  line(v, key, [&] { v.word(value, yes_no_words); });
}

template <class V>
void digest_line(V& v, std::string_view key, Digest& value) {
  line(v, key, [&] { v.digest(value); });
}

template <class V>
void maybe_digest_line(V& v, std::string_view key, Maybe<Digest>& value) {
  line(v, key, [&] { v.optional(value.present, [&] { v.digest(value.value); }); });
}

template <class V, class T>
void uint_line(V& v, std::string_view key, T& value, std::uint64_t low, std::uint64_t high) {
  line(v, key, [&] { v.uint(value, low, high); });
}

template <class V, std::size_t N>
void id_line(V& v, std::string_view key, Text<N>& value) {
  line(v, key, [&] { v.id(value); });
}

} // namespace cardseal::format
