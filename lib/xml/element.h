// Typed, exact reading of a `Document`: every element and attribute that is there must be asked
// for, children in the order in which they are asked for, and everything wrong is collected.
//
//   Reader reader(document);
//   Element root = reader.root("board");
//   board.id = root.id("id");
//   Element supply = root.one("supply");
//   board.min_mv = supply.uint("min-millivolts", 0, 60000);
//   return reader.result(board);   // unknown, missing, repeated, misspelled: all of them
//
// After an error a getter gives the lowest allowed or an empty value and reading goes on; an absent
// element answers everything so, silently, because its absence was reported. Nothing read this way
// may be used before `result` or `finish` said that there was no error.
#pragma once

#include <array>
#include <cstdint>
#include <initializer_list>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/bytes.h"
#include "xml/document.h"

namespace cardseal::xml {

class Reader;

using Digest = std::array<std::uint8_t, 32>;

template <class E>
struct Word {
  std::string_view word;
  E value;
};

class Element {
public:
  explicit operator bool() const { return node_ != nullptr; }
  std::string_view name() const;
  std::uint32_t line() const;
  Place place() const;
  Place place_of(std::string_view attribute) const; // the element's own when it is not there

  // Children. Counts that don't fit are errors.
  Element one(std::string_view child) const;
  Element maybe(std::string_view child) const; // absent is no error
  Element one_of(std::initializer_list<std::string_view> children) const;
  std::vector<Element> many(std::string_view child, std::size_t min, std::size_t max) const;
  std::vector<Element> any_of(std::initializer_list<std::string_view> children, std::size_t min,
                              std::size_t max) const; // mixed, in the order of the file

  // Attributes. `has` makes one optional: ask it first.
  bool has(std::string_view attribute) const;
  std::uint64_t uint64(std::string_view attribute, std::uint64_t min, std::uint64_t max) const;
  // Decimal; hex after 0x; either of the two.
  std::uint32_t uint(std::string_view attribute, std::uint32_t min, std::uint32_t max) const;
  std::uint32_t hex(std::string_view attribute, std::uint32_t min, std::uint32_t max) const;
  std::uint32_t size(std::string_view attribute, std::uint32_t min, std::uint32_t max) const;
  bool yes_no(std::string_view attribute) const;
  std::string id(std::string_view attribute, std::size_t max_length = 32) const;
  // Bytes between min and max, no control or hidden character, no '"' and '\\'.
  std::string text(std::string_view attribute, std::size_t min, std::size_t max) const;
  std::string display(std::string_view attribute, std::size_t min, std::size_t max) const; // ASCII
  std::string plain(std::string_view attribute, std::size_t min, std::size_t max,
                    std::string_view characters) const;
  std::string path(std::string_view attribute) const;
  Digest sha256(std::string_view attribute) const;
  std::vector<std::uint8_t> bytes(std::string_view attribute, std::size_t min,
                                  std::size_t max) const;
  template <class E, std::size_t N>
  E choice(std::string_view attribute, const Word<E> (&words)[N]) const {
    std::array<std::string_view, N> spelled;
    for (std::size_t i = 0; i < N; ++i) {
      spelled[i] = words[i].word;
    }
    return words[choose(attribute, spelled)].value;
  }
  // The words of an enum in the order of its values.
  template <class E, std::size_t N>
  E choice(std::string_view attribute, const std::array<std::string_view, N>& words) const {
    return static_cast<E>(choose(attribute, words));
  }

  // False once something of this very element was refused: checks between values can wait.
  bool sound() const;
  // The raw value, for forms of one's own; empty when absent (an error unless `has` was asked).
  std::string_view raw(std::string_view attribute) const;
  // Adds an error about an attribute, or about the element when `attribute` is empty.
  void refuse(std::string_view attribute, std::string what, std::string found, std::string expected,
              std::string hint) const;

private:
  friend class Reader;
  Element(Reader* reader, const tinyxml2::XMLElement* node) : reader_(reader), node_(node) {}
  std::size_t choose(std::string_view attribute, std::span<const std::string_view> words) const;
  const char* take(std::string_view attribute) const;
  void bad(std::string_view attribute, std::string_view fault, std::string expected,
           std::string hint) const;
  std::uint64_t number(std::string_view attribute, std::uint64_t min, std::uint64_t max,
                       unsigned forms) const;
  void add(std::string code, Place place, std::string what, std::string found, std::string expected,
           std::string hint) const;
  std::vector<Element> children(std::initializer_list<std::string_view> names) const;

  Reader* reader_;
  const tinyxml2::XMLElement* node_; // null: absent
};

class Reader {
public:
  explicit Reader(const Document& document) : document_(document) {}
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  Element root(std::string_view name);
  // Looks for what nobody asked for, then gives every error in order of lines. Call it once.
  Errors finish();
  template <class T>
  All<T> result(T value) {
    Errors errors = finish();
    if (!errors.empty()) {
      return Unexpected(std::move(errors));
    }
    return value;
  }

private:
  friend class Element;
  struct Asked {
    bool faulty = false;
    std::vector<std::string> attributes;
    std::vector<std::vector<std::string>> children; // alternatives, in the order asked for
  };
  void check(const tinyxml2::XMLElement* node);
  void check_attributes(const tinyxml2::XMLElement* node, const Asked& asked);
  void check_children(const tinyxml2::XMLElement* node, const Asked& asked);

  const Document& document_;
  std::map<const tinyxml2::XMLElement*, Asked> asked_;
  Errors errors_;
};

} // namespace cardseal::xml
