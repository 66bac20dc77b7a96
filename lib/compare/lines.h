// A sealed text as lines of fields, from the one description that also reads and writes it
// (`visit` in lib/format). Whatever is added to a text is therefore in its lines.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/bytes.h"
#include "crypto/sha256.h"
#include "format/line.h"
#include "format/reader.h"

namespace cardseal::compare {

struct Field {
  std::string text;                    // as the sealed text spells it, without quotes
  std::optional<std::uint64_t> number; // of numbers and hex masks
  bool present = true;                 // false: the text has '-'
  friend bool operator==(const Field&, const Field&) = default;
};

using Fields = std::vector<Field>;

// A key has as many fields in each of its lines: what is optional and absent stands as that many
// absent fields.
struct Line {
  std::string key;
  Fields fields;
  bool item = false; // one of a list
};

// The visitor that makes them. Lines that only count the items of a list are left out.
class Flatten {
public:
  bool ok() const { return true; }
  void reference(bool) {}
  void begin(std::string_view key) {
    line_ = {std::string(key), {}, false};
    counter_ = false;
  }
  void end() {
    if (!counter_) {
      lines_.push_back(std::move(line_));
    }
  }
  void begin_list() {}
  void end_item(format::Order) { lines_.back().item = true; }

  template <class T>
  void uint(T& value, std::uint64_t, std::uint64_t) {
    put(std::to_string(value), value);
  }
  void count(std::uint16_t&, std::uint16_t, std::uint16_t) { counter_ = true; }
  template <class T>
  void hex(T& value, std::size_t digits) {
    std::array<char, 16> spelled{};
    put({spelled.data(), spell_hex(value, digits, spelled)}, value);
  }
  void bytes(ByteSpan value) { put(crypto::hex(value)); }
  void digest(format::Digest& value) { put(crypto::spell_digest(value)); }
  void utc(Utc& value) {
    std::array<char, utc_length> spelled{};
    put({spelled.data(), spell_utc(value, spelled)});
  }
  template <std::size_t N>
  void id(format::Text<N>& value) {
    put(std::string(value.view()));
  }
  template <std::size_t N>
  void quoted(format::Text<N>& value, format::Charset) {
    put(std::string(value.view()));
  }
  template <class E, std::size_t N>
  void word(E& value, const std::array<std::string_view, N>& words) {
    put(std::string(words[static_cast<std::size_t>(value)]));
  }
  template <class F>
  void optional(bool& present, F fields) {
    const bool before = absent_;
    absent_ = absent_ || !present;
    fields();
    absent_ = before;
  }

  std::vector<Line> take() { return std::move(lines_); }

private:
  void put(std::string text, std::optional<std::uint64_t> number = {}) {
    line_.fields.push_back(absent_ ? Field{"-", {}, false} : Field{std::move(text), number, true});
  }

  std::vector<Line> lines_;
  Line line_;
  bool counter_ = false;
  bool absent_ = false;
};

template <class T>
std::vector<Line> lines_of(const T& text) {
  const auto copy = std::make_unique<T>(text); // the description takes fields it may write to
  Flatten flatten;
  visit(flatten, *copy);
  return flatten.take();
}

} // namespace cardseal::compare
