// What somebody signs by a page is all that is sealed: each field of every text, changed alone,
// changes the review page in more than digests.
#include <set>

#include "pages.h"
#include "support/fill.h"
#include "support/mutate.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// Digests and keys, which are told apart on the page and left out of this comparison; and the place
// of a finding in its list.
const std::set<std::string> silent_ones{
    "manifest.owner 0", "manifest.image 1",   "manifest.chain-head 0", "manifest.facts 1",
    "manifest.file 2",  "facts.owner 0",      "facts.firmware 2",      "facts.finding 0",
    "signoff.owner 0",  "signoff.manifest 0", "signoff.key 0"};

std::string page_of(const package::Package& package) {
  return without_digests(page::review_page({package}));
}

template <class T, class TextOf>
void change_each_field(const package::Package& whole, TextOf text_of) {
  const std::string before = page_of(whole);
  std::set<std::string> silent;
  std::size_t changed = 0;
  for (std::size_t at = 0;; ++at, ++changed) {
    package::Package package = whole;
    Mutator mutator(at);
    visit(mutator, text_of(package));
    if (!mutator.done()) {
      break;
    }
    if (page_of(package) == before) {
      silent.insert(fmt::format("{}.{} {}", T::kind, mutator.key(), mutator.place()));
    }
  }
  CHECK(changed > 15);
  std::set<std::string> expected;
  for (const std::string& each : silent_ones) {
    if (each.starts_with(fmt::format("{}.", T::kind))) {
      expected.insert(each);
    }
  }
  CHECK(silent == expected);
}

} // namespace

TEST_CASE("each field of a manifest, changed alone, changes the review beyond digests") {
  change_each_field<format::Manifest>(
      example_package(), [](package::Package & p) -> auto& { return p.manifest; });
}

TEST_CASE("each field of the facts, changed alone, changes the review beyond digests") {
  change_each_field<format::Facts>(
      example_package(), [](package::Package & p) -> auto& { return p.facts; });
}

TEST_CASE("each field of a sign-off, changed alone, changes the review beyond digests") {
  change_each_field<format::Signoff>(
      example_package(), [](package::Package & p) -> auto& { return p.signoffs.front().signoff; });
}

TEST_CASE("a review with every list full and every text at its longest is made, below 500 KiB") {
  package::Package package = example_package();
  Filler filler;
  visit(filler, package.manifest);
  Filler facts;
  visit(facts, package.facts);
  const std::string html = page::review_page({package});
  CHECK(html.size() < 500 * 1024);
  CHECK(count_of(html, "<tr") > 600);
}
