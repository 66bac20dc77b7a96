// Whatever an author writes stays text.
#include <algorithm>
#include <vector>

#include "pages.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

constexpr std::string_view hostile[] = {"<script>alert(1)</script>", "</p></style><b>",
                                        "'><img src=x onerror=1>",   "\"><svg/onload=1>",
                                        "&lt;&#60;&quot;",           "{{TITLE}}{{%X}}",
                                        "--></title><h1>",           "}body{display:none}"};

// Puts one text into every field that holds text; what is too long is cut.
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

package::Package written_by(std::string_view text) {
  package::Package package = example_package();
  Author author(text);
  visit(author, package.manifest);
  visit(author, package.facts);
  visit(author, package.signoffs.front().signoff);
  return package;
}

// A text of the same length without any character that means something, each byte of it at home
// nowhere else on a page: it shows where a text stands, cut or whole.
std::string harmless_for(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    out += static_cast<char>(0xC3 + i);
  }
  return out;
}

// What a reader of HTML gets: references as the characters that they stand for. Only those that may
// stand on a page are known; another '&' stays and is found.
std::string decoded_text(std::string_view text) {
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
std::vector<std::string> pieces_of(std::string_view html) {
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
std::string with_text(std::string piece, std::string_view text) {
  for (char& c : piece) {
    const auto at = static_cast<std::size_t>(static_cast<std::uint8_t>(c)) - 0xC3;
    c = at < text.size() ? text[at] : c;
  }
  return piece;
}

// Piece by piece the page shows what the harmless one shows, with the hostile text, to the letter,
// wherever the harmless one stood, and no tag more.
void check_same_shown(const std::string& page, const std::string& harmless, std::string_view text) {
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

format::Allotment allotment_of(std::string_view text) {
  format::Allotment allotment;
  allotment.station.set(text.substr(0, 16));
  allotment.work_order.set(text.substr(0, 24));
  allotment.date_code.set({});
  allotment.date_code.value.set(text.substr(0, 16));
  return allotment;
}

} // namespace

TEST_CASE("hostile text in every author's field stays text on the review") {
  for (const std::string_view text : hostile) {
    INFO(text);
    check_same_shown(page::review_page({written_by(text)}),
                     page::review_page({written_by(harmless_for(text))}), text);
  }
}

TEST_CASE("hostile text in every author's field stays text on what changed") {
  const package::Package plain = written_by("harmless");
  for (const std::string_view text : hostile) {
    INFO(text);
    const auto page_with = [&](std::string_view words) {
      compare::Report report;
      compare::Difference one;
      one.what = words;
      one.a = words;
      one.b = words;
      report.differences.push_back(one);
      const package::Package previous = written_by(words);
      const page::Before before{previous, report, {}};
      return page::review_page({plain, &before});
    };
    check_same_shown(page_with(text), page_with(harmless_for(text)), text);
  }
}

TEST_CASE("hostile text in every author's field stays text on set-up sheet and label") {
  const auto pages_with = [](std::string_view words) {
    package::Package package = written_by(words);
    package.manifest.scheme.present = false;
    format::CardIndex index;
    index.log.set({1, 1});
    const format::Allotment allotment = allotment_of(words);
    const page::CardInput input{package, allotment, index, {}};
    Try<std::string> sheet = page::sheet_page(input);
    Try<std::string> label = page::label_page(input, page::CodeKind::qr);
    REQUIRE(sheet);
    REQUIRE(label);
    return *sheet + *label;
  };
  for (const std::string_view text : hostile) {
    INFO(text);
    check_same_shown(pages_with(text), pages_with(harmless_for(text)), text);
  }
}
