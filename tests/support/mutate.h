// One field of a sealed text, changed: a visitor that counts the fields as it comes to them, and
// gives the one asked for another value. The text need not be in form afterwards.
#pragma once

#include <string>

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::test {

class Mutator {
public:
  explicit Mutator(std::size_t wanted) : wanted_(wanted) {}

  bool done() const { return next_ > wanted_; }   // false: the text has not that many fields
  const std::string& key() const { return key_; } // of the changed field
  std::size_t place() const { return place_; }    // of it in its line
  bool counter() const { return counter_; }       // it counts the lines of a list

  bool ok() const { return true; }
  void begin(std::string_view key) { line_ = key, field_ = 0; }
  void end() {}
  void begin_list() {}
  void end_item(format::Order) {}
  void reference(bool) {}

  template <class T>
  void uint(T& value, std::uint64_t low, std::uint64_t high) {
    if (hit()) {
      value = static_cast<T>(value != low ? low : high != low ? high : low - 1);
    }
  }
  void count(std::uint16_t& value, std::uint16_t, std::uint16_t) {
    if (hit()) {
      value = value == 0 ? 1 : static_cast<std::uint16_t>(value - 1);
      counter_ = true;
    }
  }
  template <class T>
  void hex(T& value, std::size_t) {
    if (hit()) {
      value = static_cast<T>(value ^ 1U);
    }
  }
  void bytes(ByteSpan value) {
    if (hit()) {
      value[0] ^= 1U;
    }
  }
  void digest(format::Digest& value) { bytes(value); }
  void utc(Utc& value) {
    if (hit()) {
      value.second ^= 1U;
    }
  }
  template <std::size_t N>
  void id(format::Text<N>& value) {
    if (hit()) {
      value.set(value.view() == "other" ? "another" : "other");
    }
  }
  template <std::size_t N>
  void quoted(format::Text<N>& value, format::Charset) {
    id(value);
  }
  template <class E, std::size_t N>
  void word(E& value, const std::array<std::string_view, N>&) {
    if (hit()) {
      value = static_cast<E>((static_cast<std::size_t>(value) + 1) % N);
    }
  }
  template <class F>
  void optional(bool& present, F fields) {
    const bool here = hit();
    --field_; // not a field of its own: its fields stand there, or '-'
    present = here ? !present : present;
    if (present) {
      fields();
    }
  }

private:
  bool hit() {
    ++field_;
    if (next_++ != wanted_) {
      return false;
    }
    key_ = line_;
    place_ = field_ - 1;
    return true;
  }

  std::size_t wanted_;
  std::size_t next_ = 0;
  std::string line_;
  std::size_t field_ = 0;
  std::string key_;
  std::size_t place_ = 0;
  bool counter_ = false;
};

} // namespace cardseal::test
