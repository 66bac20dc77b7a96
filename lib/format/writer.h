// Spells a sealed text in its one form, into memory of the caller. The counterpart of TextReader.
#pragma once

#include "format/fields.h"
#include "format/reader.h"

namespace cardseal::format {

// Writes nothing past `out`; size() is 0 when it did not fit. Values are trusted to be in range:
// whoever seals reads the text back (`encode` in codec.h does).
class TextWriter {
public:
  explicit TextWriter(ByteSpan out) : out_(out) {}

  std::size_t size() const { return full_ ? 0 : at_; }

  void head(std::string_view kind) { put("cardseal-"), put(kind), put(" 1\n"); }
  void begin(std::string_view key) { put(key); }
  void end() { put("\n"); }
  void begin_list() {}
  void end_item(Order) {}
  void finish() {}
  void reference(bool) {}
  bool ok() const { return !full_; }

  template <class T>
  void uint(T& value, std::uint64_t, std::uint64_t) {
    put(" "), put_uint(value);
  }
  void count(std::uint16_t& value, std::uint16_t, std::uint16_t) { put(" "), put_uint(value); }
  template <class T>
  void hex(T& value, std::size_t digits) {
    put(" "), put_hex(value, digits);
  }
  void bytes(ByteSpan value) { put(" "), put_bytes(value); }
  void digest(Digest& value) { put(" sha256:"), put_bytes(value); }
  void utc(Utc& value) { put(" "), put_utc(value); }
  template <std::size_t N>
  void id(Text<N>& value) {
    put(" "), put(value.view());
  }
  template <std::size_t N>
  void quoted(Text<N>& value, Charset) {
    put(" \""), put(value.view()), put("\"");
  }
  template <class E, std::size_t N>
  void word(E& value, const std::array<std::string_view, N>& words) {
    const auto index = static_cast<std::size_t>(value);
    put(" "), put(index < N ? words[index] : std::string_view{});
  }
  template <class F>
  void optional(bool& present, F fields) {
    if (present) {
      fields();
    } else {
      put(" -");
    }
  }

private:
  void put(std::string_view text);
  void put_uint(std::uint64_t value);
  void put_hex(std::uint64_t value, std::size_t digits);
  void put_bytes(ByteView bytes);
  void put_utc(const Utc& time);

  ByteSpan out_;
  std::size_t at_ = 0;
  bool full_ = false;
};

} // namespace cardseal::format
