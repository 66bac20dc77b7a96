// An author of a sealed text: a visitor that puts one text into every field that holds text; what
// is too long is cut.
#pragma once

#include <string_view>

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::test {

class Author {
public:
  explicit Author(std::string_view text) : text_(text) {}
  bool ok() const { return true; }
  void begin(std::string_view) {}
  void end() {}
  void begin_list() {}
  void end_item(format::Order) {}
  void reference(bool) {}
  void count(std::uint16_t&, std::uint16_t, std::uint16_t) {}
  template <class T>
  void uint(T&, std::uint64_t, std::uint64_t) {}
  template <class T>
  void hex(T&, std::size_t) {}
  void bytes(ByteSpan) {}
  void digest(format::Digest&) {}
  void utc(Utc&) {}
  template <std::size_t N>
  void id(format::Text<N>& value) {
    value.set(text_.substr(0, N));
  }
  template <std::size_t N>
  void quoted(format::Text<N>& value, format::Charset) {
    value.set(text_.substr(0, N));
  }
  template <class E, std::size_t N>
  void word(E&, const std::array<std::string_view, N>&) {}
  template <class F>
  void optional(bool& present, F fields) {
    if (present) {
      fields();
    }
  }

private:
  std::string_view text_;
};

} // namespace cardseal::test
