// The worked examples of lib/format/SPEC.md, decoded and encoded by the code under test.
#pragma once

#include <string>
#include <tuple>

#include "format/card_texts.h"
#include "format/codec.h"
#include "format/facts.h"
#include "format/lot_texts.h"
#include "format/signoff.h"
#include "support/markdown.h"

namespace cardseal::test {

template <class T>
struct KindOf {
  using type = T;
};

// Calls `f(KindOf<T>{})` for every kind of sealed text.
template <class F>
void for_each_kind(F f) {
  f(KindOf<format::Root>{});
  f(KindOf<format::TrustList>{});
  f(KindOf<format::Manifest>{});
  f(KindOf<format::Signoff>{});
  f(KindOf<format::Withdrawal>{});
  f(KindOf<format::Allotment>{});
  f(KindOf<format::CardIndex>{});
  f(KindOf<format::Facts>{});
  f(KindOf<format::FirstArticle>{});
  f(KindOf<format::Concession>{});
  f(KindOf<format::Close>{});
}

inline const Markdown& spec() {
  static const Markdown page("lib/format/SPEC.md");
  return page;
}

template <class T>
std::string example_of() {
  return spec().example("text", "example-" + std::string(T::kind));
}

template <class T>
Outcome decoded(const std::string& text) {
  T value{};
  return format::decode(bytes_of(text), value);
}

// Empty when `value` would not be accepted.
template <class T>
std::string encoded(const T& value) {
  std::string out(T::limit, '\0');
  Outcome outcome;
  const ByteSpan room(reinterpret_cast<std::uint8_t*>(out.data()), out.size());
  out.resize(format::encode(value, room, outcome));
  return out;
}

enum class Taken { refused, canonical, other };

// `other`: accepted, but it would be spelled differently.
template <class T>
Taken taken_as(const std::string& text) {
  T value{};
  if (!format::decode(bytes_of(text), value).ok()) {
    return Taken::refused;
  }
  return encoded(value) == text ? Taken::canonical : Taken::other;
}

// `text` with the only occurrence of `from` replaced.
inline std::string changed(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  REQUIRE(text.find(from, at + 1) == std::string::npos);
  return text.replace(at, from.size(), to);
}

inline std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> out;
  std::istringstream rest(text);
  for (std::string line; std::getline(rest, line);) {
    out.push_back(line + "\n");
  }
  return out;
}

inline std::string joined(const std::vector<std::string>& lines) {
  std::string out;
  for (const std::string& line : lines) {
    out += line;
  }
  return out;
}

} // namespace cardseal::test
