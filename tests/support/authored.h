// Authored XML in tests: read a text or a file of the source tree, change one thing, list what is
// wrong.
#pragma once

#include <string>
#include <string_view>

#include "support/catch.h"
#include "xml/document.h"

namespace cardseal::test {

inline std::string listed(const xml::Errors& errors) {
  std::string out;
  for (const Error& error : errors) {
    out += describe(error) + "\n";
  }
  return out;
}

inline io::Path source_path(const std::string& path) {
  return io::Path(CARDSEAL_SOURCE_DIR) / path;
}

// `text` with the only occurrence of `from` replaced.
inline std::string with(std::string text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  REQUIRE(text.find(from, at + 1) == std::string::npos);
  return text.replace(at, from.size(), to);
}

// What `read` refuses in `text`, one line an error; empty when it is read.
template <class T>
std::string refused(const std::string& text, xml::All<T> (*read)(const xml::Document&)) {
  const Try<xml::Document> document = xml::Document::parse(text, "a.xml");
  REQUIRE(document);
  const xml::All<T> value = read(*document);
  return value ? "" : listed(value.error());
}

template <class T>
T taken(const std::string& text, xml::All<T> (*read)(const xml::Document&)) {
  REQUIRE(refused(text, read) == "");
  return *read(*xml::Document::parse(text, "a.xml"));
}

template <class T>
T taken_file(const std::string& path, xml::All<T> (*read)(const xml::Document&)) {
  const xml::All<T> value = xml::read_as(io::real_system(), source_path(path), read);
  INFO((value ? "" : listed(value.error())));
  REQUIRE(value);
  return *value;
}

} // namespace cardseal::test
