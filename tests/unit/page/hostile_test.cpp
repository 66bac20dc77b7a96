// Whatever an author writes stays text.
#include "shown.h"
#include "support/author.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

package::Package written_by(std::string_view text) {
  package::Package package = example_package();
  Author author(text);
  visit(author, package.manifest);
  visit(author, package.facts);
  visit(author, package.signoffs.front().signoff);
  return package;
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
