// Pages of what quality signed about a lot: each field of a text and each thing that is told beside
// it shows, hostile text stays text, counts that don't add up are called so.
#include <functional>
#include <set>

#include "page/statement_pages.h"
#include "shown.h"
#include "support/author.h"
#include "support/fill.h"
#include "support/mutate.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

struct Beside { // everything but the text that a page is made of
  package::Package package = example_package();
  format::TrustList list;
  std::vector<std::string> sources{"text harmless"};
  page::StatementRegister registered;
  bool is_signed = true;
  bool judged = true;
  bool with_package = true;
  bool with_register = true;
  format::Key key{1};
  format::Digest digest{2};
  std::uint32_t root_version = 3;

  template <class T>
  explicit Beside(const T& text, const std::string& words = "harmless") {
    package.manifest_digest = {9};
    list.sequence = 4;
    format::Person person;
    person.id = text.person;
    person.name.set(slice(words, 0, person.name.bytes.size()));
    list.persons.add(person);
    page::CardOfSet& card = registered.cards.emplace_back();
    card.row.card = format::CardId{0x00, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0xAA};
    card.row.units = 55;
    card.row.station = words;
    card.fates.push_back({{registry::Fate::returned, words, words}, words});
    sources[0] = words;
  }

  template <class T>
  std::string page_of(const T& text) const {
    const page::StatementSigner signer{key, list, root_version};
    std::vector<const package::Package*> packages;
    if (with_package) {
      packages.push_back(&package);
    }
    return page::statement_page(text, {digest, is_signed, judged ? &signer : nullptr,
                                       with_register ? &registered : nullptr, packages, sources});
  }
};

template <class T>
T example() {
  return decoded_value<T>(example_of<T>());
}

// The digests that a text names: told apart on the page, and left out of this comparison.
template <class T>
void check_each_field(const std::set<std::string>& digests) {
  const T whole = example<T>();
  const Beside beside(whole);
  const std::string before = without_digests(beside.page_of(whole));
  std::set<std::string> silent;
  std::size_t changed = 0;
  for (std::size_t at = 0;; ++at, ++changed) {
    T text = whole;
    Mutator mutator(at);
    visit(mutator, text);
    if (!mutator.done()) {
      break;
    }
    if (without_digests(beside.page_of(text)) == before) {
      silent.insert(mutator.key());
      CHECK(beside.page_of(text) != beside.page_of(whole)); // the digest itself shows
    }
  }
  CHECK(changed > 5);
  CHECK(silent == digests);
}

struct StatementChange {
  const char* what;
  std::function<void(Beside&)> make;
};

// Property 15: whose signature it is, by which key and list, and what the digest is.
const std::vector<StatementChange> signature_changes{
    {"name", [](Beside& b) { b.list.persons.items[0].name.set("other"); }},
    {"key", [](Beside& b) { b.key[0] ^= 1U; }},
    {"digest", [](Beside& b) { b.digest[0] ^= 1U; }},
    {"trust list", [](Beside& b) { b.list.sequence += 1; }},
    {"root", [](Beside& b) { b.root_version += 1; }},
    {"not judged", [](Beside& b) { b.judged = false; }},
    {"kept", [](Beside& b) { b.registered.keeps_text = true; }},
    {"no register", [](Beside& b) { b.with_register = false; }},
    {"source", [](Beside& b) { b.sources[0] = "other"; }}};

template <class T>
void check_changes(const std::vector<StatementChange>& own) {
  const T text = example<T>();
  const auto check = [&](const StatementChange& change) {
    INFO(change.what);
    Beside beside(text);
    const std::string before = beside.page_of(text);
    change.make(beside);
    CHECK(beside.page_of(text) != before);
  };
  for (const StatementChange& change : signature_changes) {
    check(change);
  }
  for (const StatementChange& change : own) {
    check(change);
  }
}

template <class T>
T written_by(std::string_view words) {
  T text = example<T>();
  Author author(words);
  visit(author, text);
  return text;
}

template <class T>
void check_hostile() {
  for (const std::string_view text : hostile) {
    INFO(text);
    const std::string plain = harmless_for(text);
    const T bad = written_by<T>(text);
    const T good = written_by<T>(plain);
    check_same_shown(Beside(bad, std::string(text)).page_of(bad), Beside(good, plain).page_of(good),
                     text);
  }
}

template <class T>
void check_full() {
  T text = example<T>();
  Filler filler;
  visit(filler, text);
  const std::string html = Beside(text).page_of(text);
  CHECK(html.size() < 500 * 1024);
  CHECK(html.find("{{") == std::string::npos);
}

bool has(const std::string& html, std::string_view what) {
  return html.find(what) != std::string::npos;
}

} // namespace

TEST_CASE("each field of what quality signed, changed alone, changes its page beyond digests") {
  check_each_field<format::FirstArticle>({"owner", "manifest", "read-back"});
  check_each_field<format::Concession>({"owner"});
  check_each_field<format::Close>({"owner", "manifest", "register-head"});
}

TEST_CASE("whose signature it is and what stands beside the text shows on each page") {
  const StatementChange no_package{"no package", [](Beside& b) { b.with_package = false; }};
  check_changes<format::FirstArticle>({});
  check_changes<format::Concession>(
      {no_package,
       {"label's station", [](Beside& b) { b.registered.cards[0].row.station = "other"; }},
       {"first ordinal", [](Beside& b) {
          b.registered.cards[0].row.range = {7, 55};
        }}});
  check_changes<format::Close>(
      {no_package,
       {"who", [](Beside& b) { b.registered.cards[0].fates[0].note.by = "other"; }},
       {"note", [](Beside& b) { b.registered.cards[0].fates[0].note.note = "other"; }},
       {"when", [](Beside& b) { b.registered.cards[0].fates[0].time = "other"; }},
       {"fate",
        [](Beside& b) { b.registered.cards[0].fates[0].note.fate = registry::Fate::lost; }}});
}

TEST_CASE("a package that a text names tells release, firmware and places in memory") {
  const auto text = example<format::FirstArticle>();
  Beside beside(text);
  beside.package.manifest_digest = text.manifest;
  const std::string html = beside.page_of(text);
  const format::Manifest& m = beside.package.manifest;
  REQUIRE(m.placements.count != 0);
  CHECK(has(html, crypto::hex(m.image_digest)));
  CHECK(has(html, crypto::hex(beside.package.facts.firmware_digest)));
  for (const format::Placement& placement : m.placements.view()) {
    CHECK(has(html,
              fmt::format("{} <span class=\"mono\">0x{:08X} to 0x{:08X}", placement.region.view(),
                          placement.address, placement.address + placement.length - 1)));
  }
  const auto closure = example<format::Close>();
  Beside closing(closure);
  closing.package.manifest_digest = closure.manifests.items[0];
  CHECK(has(closing.page_of(closure), fmt::format("{} {}, <span class=\"mono\" data-of=\"manifests",
                                                  m.product.view(), m.release.view())));
}

TEST_CASE("a text that nobody signed, or that no trust list judged, is not called signed") {
  const auto text = example<format::Concession>();
  Beside beside(text);
  CHECK(has(beside.page_of(text), "checked, and it counts"));
  beside.judged = false;
  CHECK(has(beside.page_of(text), "! Signature not checked."));
  CHECK(!has(beside.page_of(text), "and it counts"));
  beside.is_signed = false;
  CHECK(has(beside.page_of(text), "! Not signed."));
  CHECK(!has(beside.page_of(text), "and it counts"));
}

TEST_CASE("a closure whose counts don't add up says so, and names the sum that differs") {
  const auto whole = example<format::Close>();
  CHECK(!has(Beside(whole).page_of(whole), "class=\"alarm\">! The counts"));
  const std::pair<const char*, std::function<void(format::Close&)>> changes[] = {
      {"! not as many as were issued", [](format::Close& c) { c.units.scrapped += 1; }},
      {"! not as issued, or not as good", [](format::Close& c) { c.cards.items[0].good += 1; }},
      {"! that is not all of them", [](format::Close& c) { c.labels.value.printed += 1; }}};
  for (const auto& [said, change] : changes) {
    INFO(said);
    format::Close text = whole;
    change(text);
    const std::string html = Beside(text).page_of(text);
    CHECK(has(html, "! The counts of this text don&#39;t add up."));
    CHECK(has(html, said));
    CHECK(!has(Beside(whole).page_of(whole), said));
  }
}

TEST_CASE("a closure shows lost and destroyed cards first, and boards for engineering never ship") {
  auto text = example<format::Close>();
  text.cards.items[1].end = format::CardEnd::lost;
  const std::string html = Beside(text).page_of(text);
  CHECK(html.find("cards.1.card") < html.find("cards.0.card"));
  std::swap(text.cards.items[0].station, text.cards.items[1].station);
  text.cards.items[1].end = format::CardEnd::counted;
  const std::string by_station = Beside(text).page_of(text);
  CHECK(by_station.find("cards.1.card") < by_station.find("cards.0.card"));
  text.cards.items[1].end = format::CardEnd::lost;
  CHECK(has(html, "! Cards that never came back to be counted: 1."));
  CHECK(has(html, "Boards that can ship: <span id=\"can-ship\">98</span>"));
  text.work_class = format::WorkClass::engineering;
  CHECK(has(Beside(text).page_of(text), "! None of them ships:"));
  CHECK(!has(Beside(text).page_of(text), "can-ship"));
  text.deviations.items[0].boards = 203;
  CHECK(has(Beside(text).page_of(text), "! 3 too many"));
}

TEST_CASE(
    "a card of several packages gives no label of its own, since the text does not say whose") {
  const auto text = example<format::Concession>();
  Beside beside(text);
  CHECK(has(beside.page_of(text), "<bdi>"));
  CHECK(!has(beside.page_of(text), "not told here"));
  beside.registered.cards[0].row.jobs_on_card = 2;
  CHECK(has(beside.page_of(text), "not told here"));
}

TEST_CASE("hostile text in every author's field stays text on what quality signed") {
  check_hostile<format::FirstArticle>();
  check_hostile<format::Concession>();
  check_hostile<format::Close>();
}

TEST_CASE("the fullest statements are made, below 500 KiB") {
  check_full<format::FirstArticle>();
  check_full<format::Concession>();
  check_full<format::Close>();
}
