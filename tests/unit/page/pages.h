// A package to make pages of, made of the worked examples of lib/format/SPEC.md, and what is looked
// for in them.
#pragma once

#include <algorithm>
#include <regex>

#include "page/page.h"
#include "support/catch.h"
#include "support/decoded.h"
#include "support/sealed_examples.h"

namespace cardseal::test {

inline package::Package example_package() {
  package::Package package;
  package.manifest = decoded_value<format::Manifest>(example_of<format::Manifest>());
  package.facts = decoded_value<format::Facts>(example_of<format::Facts>());
  package::SignoffEntry entry;
  entry.signoff = decoded_value<format::Signoff>(example_of<format::Signoff>());
  package.signoffs.push_back(entry);
  return package;
}

// Digests and keys left out, so that what differs beyond them stands out: whatever is 64 hex digits
// in a row or in groups of four, and the two groups at the foot of each printed page.
inline std::string without_digests(const std::string& html) {
  const auto is_hex = [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); };
  std::string out;
  std::size_t at = 0;
  while (at < html.size()) {
    std::size_t end = at;
    std::size_t digits = 0;
    while (end < html.size() && (is_hex(html[end]) || (html[end] == ' ' && digits % 4 == 0))) {
      digits += is_hex(html[end++]) ? 1 : 0;
    }
    const bool foot = digits == 8 && out.ends_with("\"package");
    if (digits < 64 && !foot) {
      out += html[at];
      end = at + 1;
    }
    at = end;
  }
  return out;
}

inline std::size_t count_of(std::string_view text, std::string_view what) {
  std::size_t count = 0;
  for (std::size_t at = text.find(what); at != std::string_view::npos;
       at = text.find(what, at + what.size())) {
    ++count;
  }
  return count;
}

} // namespace cardseal::test
