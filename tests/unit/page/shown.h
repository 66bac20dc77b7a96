// A page with hostile text held against the same page with a harmless one, piece by piece: what is
// shown is the author's text, to the letter, and no tag more.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "pages.h"

namespace cardseal::test {

inline constexpr std::string_view hostile[] = {"<script>alert(1)</script>", "</p></style><b>",
                                               "'><img src=x onerror=1>",   "\"><svg/onload=1>",
                                               "&lt;&#60;&quot;",           "{{TITLE}}{{%X}}",
                                               "--></title><h1>",           "}body{display:none}"};

// A text of the same length without any character that means something, each byte of it at home
// nowhere else on a page: it shows where a text stands, cut or whole.
inline std::string harmless_for(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    out += static_cast<char>(0xC3 + i);
  }
  return out;
}

// What a reader of HTML gets: references as the characters that they stand for. Only those that may
// stand on a page are known; another '&' stays and is found.
inline std::string decoded_text(std::string_view text) {
  static const std::pair<std::string_view, char> references[] = {
      {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}, {"&#39;", '\''}, {"&amp;", '&'}};
  std::string out;
  while (!text.empty()) {
    const auto* const found =
        std::find_if(std::begin(references), std::end(references),
                     [&](const auto& reference) { return text.starts_with(reference.first); });
    const bool plain = found == std::end(references);
    out += plain ? text.front() : found->second;
    text.remove_prefix(plain ? 1 : found->first.size());
  }
  return out;
}

// Texts and tags in turn, both decoded: a tag ends at '>' outside of quotes.
inline std::vector<std::string> pieces_of(std::string_view html) {
  std::vector<std::string> out;
  while (!html.empty()) {
    std::size_t end = html.find('<');
    out.push_back(decoded_text(html.substr(0, end)));
    html.remove_prefix(std::min(end, html.size()));
    char quote = 0;
    for (end = 0; end < html.size() && (quote != 0 || html[end] != '>'); ++end) {
      const bool mark = html[end] == '"' || html[end] == '\'';
      quote = quote == 0 && mark ? html[end] : html[end] == quote ? '\0' : quote;
    }
    out.push_back(decoded_text(html.substr(0, end)));
    html.remove_prefix(std::min(end, html.size()));
  }
  return out;
}

// What `piece` of the harmless page has to be with the hostile text in its places.
inline std::string with_text(std::string piece, std::string_view text) {
  for (char& c : piece) {
    const auto at = static_cast<std::size_t>(static_cast<std::uint8_t>(c)) - 0xC3;
    c = at < text.size() ? text[at] : c;
  }
  return piece;
}

// Piece by piece the page shows what the harmless one shows, with the hostile text, to the letter,
// wherever the harmless one stood, and no tag more.
inline void check_same_shown(const std::string& page, const std::string& harmless,
                             std::string_view text) {
  const std::vector<std::string> found = pieces_of(page);
  const std::vector<std::string> expected = pieces_of(harmless);
  REQUIRE(found.size() == expected.size());
  std::size_t places = 0;
  for (std::size_t i = 0; i < found.size(); ++i) {
    const std::string whole = with_text(expected[i], text);
    places += whole == expected[i] ? 0 : 1;
    if (found[i] != whole) {
      CHECK(found[i] == whole);
    }
  }
  CHECK(places > 3);
}

} // namespace cardseal::test
