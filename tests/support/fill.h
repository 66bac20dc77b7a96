// A sealed text at its largest: a visitor that fills every list to its limit and every field to its
// longest spelling, the lines of a list ascending.
#pragma once

#include <algorithm>
#include <string>

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::test {

class Filler {
public:
  bool ok() const { return true; }
  void begin(std::string_view) {
    if (item_ == count_) { // past a list: a line that stands once
      item_ = 0;
      count_ = 1;
    }
  }
  void end() {}
  void begin_list() { item_ = 0; }
  void end_item(format::Order) { ++item_; }
  void reference(bool) {}

  template <class T>
  void uint(T& value, std::uint64_t low, std::uint64_t high) {
    value = static_cast<T>(std::max(low, high - std::min<std::uint64_t>(high, count_ - 1 - item_)));
  }
  void count(std::uint16_t& value, std::uint16_t, std::uint16_t high) {
    value = high;
    count_ = high;
    item_ = 0;
  }
  template <class T>
  void hex(T& value, std::size_t) {
    value = static_cast<T>(item_);
  }
  void bytes(ByteSpan value) {
    fill(value, 0xFF);
    value[0] = static_cast<std::uint8_t>(item_);
  }
  void digest(format::Digest& value) { bytes(value); }
  void utc(Utc& value) { value = {9999, 12, 31, 23, 59, 59}; }
  template <std::size_t N>
  void id(format::Text<N>& value) {
    value.set(numbered(N));
  }
  template <std::size_t N>
  void quoted(format::Text<N>& value, format::Charset) {
    value.set(numbered(N));
  }
  template <class E, std::size_t N>
  void word(E& value, const std::array<std::string_view, N>& words) {
    auto sorted = words;
    std::sort(sorted.begin(), sorted.end());
    const auto at = std::find(words.begin(), words.end(), sorted[item_ % N]);
    value = static_cast<E>(at - words.begin());
  }
  template <class F>
  void optional(bool& present, F fields) {
    present = true;
    fields();
  }

private:
  std::string numbered(std::size_t size) const {
    std::string text = "n" + std::to_string(100 + item_);
    text.resize(size, 'x');
    return text;
  }

  std::size_t item_ = 0;
  std::size_t count_ = 1;
};

} // namespace cardseal::test
