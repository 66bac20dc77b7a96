// Reads a sealed text line by line, in the one order and form that its kind allows. Whatever is
// accepted here, TextWriter spells back to the same bytes.
//
// A kind is described once, as `template <class V> void visit(V&, Struct&)` in texts.h; this
// reader, the writer and the printed specification are three visitors of that description.
#pragma once

#include "base/outcome.h"
#include "format/fields.h"

namespace cardseal::format {

inline constexpr std::size_t max_line = 255; // bytes, line feed included
inline constexpr std::size_t max_fields = 12;

enum class Charset : std::uint8_t {
  display, // printable ASCII without `"` and `\`: may be shown by a station
  people,  // also well-formed UTF-8 of harmless characters: for screens and pages only
};

class TextReader {
public:
  TextReader(ByteView text, std::size_t limit) : text_(text_of(text)) {
    if (text.size() > limit) {
      fail(Fault::text_too_long);
    }
  }

  Outcome outcome() const { return outcome_; }
  bool ok() const { return outcome_.ok(); }

  void head(std::string_view kind); // "cardseal-<kind> 1"
  void begin(std::string_view key); // a line with this key starts
  void end();                       // its last field was read
  void begin_list() { has_previous_ = false; }
  void end_item(Order order); // after end(): strictly above the item before
  void finish();              // nothing may follow
  void reference(bool good) { // a rule between lines of one text
    if (!good) {
      fail(Fault::text_reference);
    }
  }

  // The next field of the current line; each leaves `value` alone after a fault.
  template <class T>
  void uint(T& value, std::uint64_t low, std::uint64_t high) {
    std::uint64_t number = 0;
    if (read_uint(number, low, high)) {
      value = static_cast<T>(number);
    }
  }
  // How many lines follow.
  void count(std::uint16_t& value, std::uint16_t low, std::uint16_t high);
  template <class T>
  void hex(T& value, std::size_t digits) {
    std::uint64_t number = 0;
    if (read_hex(number, digits)) {
      value = static_cast<T>(number);
    }
  }
  void bytes(ByteSpan value);
  void digest(Digest& value);
  void utc(Utc& value);
  template <std::size_t N>
  void id(Text<N>& value) {
    set(value, read_id(N));
  }
  template <std::size_t N>
  void quoted(Text<N>& value, Charset charset) {
    set(value, read_quoted(N, charset));
  }
  template <class E, std::size_t N>
  void word(E& value, const std::array<std::string_view, N>& words) {
    std::size_t index = 0;
    if (read_word(words, index)) {
      value = static_cast<E>(index);
    }
  }
  // The rest of the line is `-`, or what `fields` reads.
  template <class F>
  void optional(bool& present, F fields) {
    present = !take_none();
    if (present) {
      fields();
    }
  }

private:
  void fail(Fault fault);
  std::string_view next_field();
  bool take_none();
  bool read_uint(std::uint64_t& value, std::uint64_t low, std::uint64_t high);
  bool read_hex(std::uint64_t& value, std::size_t digits);
  bool read_word(std::span<const std::string_view> words, std::size_t& index);
  std::string_view read_id(std::size_t longest);
  std::string_view read_quoted(std::size_t longest, Charset charset);
  template <std::size_t N>
  void set(Text<N>& value, std::string_view text) {
    if (ok()) {
      value.set(text);
    }
  }
  void note(bool numeric, std::uint64_t number, std::string_view text);

  struct Seen { // a field of a list's line, for the order
    bool numeric;
    std::uint64_t number;
    std::string_view text;
  };
  bool above_previous(std::size_t deciding) const;

  std::string_view text_;
  std::size_t at_ = 0;    // where the next line starts
  std::string_view rest_; // of the current line, after the fields read
  bool first_field_ = false;
  std::uint32_t line_ = 0;
  Outcome outcome_{};
  bool has_previous_ = false;
  std::array<Seen, max_fields> previous_{};
  std::array<Seen, max_fields> current_{};
  std::size_t previous_count_ = 0;
  std::size_t current_count_ = 0;
};

} // namespace cardseal::format
