// Nothing that is sealed can be left out of a comparison: every field of every text is changed by
// itself, and every key has its row in the table.
#include <map>
#include <set>

#include "compare/table.h"
#include "sides.h"
#include "support/fill.h"
#include "support/mutate.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// What says only where an item stands, or what binds a sign-off to its own package, which another
// package's can't have.
const std::set<std::string> not_compared{
    "facts.finding 0", "signoff.owner 0",    "signoff.manifest 0", "signoff.product 0",
    "signoff.epoch 0", "signoff.sequence 0", "signoff.previous 0"};

template <class T>
T full() {
  T text{};
  Filler filler;
  visit(filler, text);
  return text;
}

// `text` is the part of a side that the visitor goes through.
template <class T, class TextOf>
void change_each_field(const T& whole, TextOf text_of) {
  compare::Side a = example_side();
  text_of(a) = whole;
  std::set<std::string> silent;
  std::size_t changed = 0;
  for (std::size_t at = 0;; ++at, ++changed) {
    compare::Side b = a;
    Mutator mutator(at);
    visit(mutator, text_of(b));
    if (!mutator.done()) {
      break;
    }
    const std::string name = fmt::format("{}.{} {}", T::kind, mutator.key(), mutator.place());
    const compare::Report report = compared(a, b);
    if (report.differences.empty()) {
      silent.insert(name);
      continue;
    }
    INFO(name << ": " << spelled(report).front());
    const std::string key =
        T::kind == "signoff" ? "signoff" : fmt::format("{}.{}", T::kind, mutator.key());
    CHECK((mutator.counter() || report.differences.front().key == key));
    CHECK(report.differences.front().a != report.differences.front().b);
  }
  CHECK(changed > 15);
  std::set<std::string> expected;
  for (const std::string& each : not_compared) {
    if (each.starts_with(fmt::format("{}.", T::kind))) {
      expected.insert(each);
    }
  }
  CHECK(silent == expected);
}

format::Manifest& manifest_of(compare::Side& side) {
  return side.package.manifest;
}
format::Facts& facts_of(compare::Side& side) {
  return side.package.facts;
}
format::Signoff& signoff_of(compare::Side& side) {
  return side.package.signoffs.front().signoff;
}

// Key and number of fields of every line.
template <class T>
std::map<std::string, std::size_t> shape_of(const T& text) {
  std::map<std::string, std::size_t> out;
  std::size_t all = 0;
  for (const compare::Line& line : compare::lines_of(text)) {
    out[fmt::format("{}.{}", T::kind, line.key)] = line.fields.size();
    all += line.fields.size();
  }
  return T::kind == "signoff" ? std::map<std::string, std::size_t>{{"signoff", all}} : out;
}

} // namespace

TEST_CASE("each field of a manifest, changed alone, is a difference of its own key") {
  change_each_field(full<format::Manifest>(), manifest_of);
  change_each_field(example_side().package.manifest, manifest_of);
}

TEST_CASE("each field of the facts, changed alone, is a difference of its own key") {
  change_each_field(example_side().package.facts, facts_of);
}

TEST_CASE("each field of a sign-off that another package's can have is compared") {
  change_each_field(full<format::Signoff>(), signoff_of);
  change_each_field(example_side().package.signoffs.front().signoff, signoff_of);
}

TEST_CASE("every key has a row that names all its fields, and every row a key") {
  std::map<std::string, std::size_t> sealed = shape_of(full<format::Manifest>());
  sealed.merge(shape_of(full<format::Facts>()));
  sealed.merge(shape_of(full<format::Signoff>()));
  std::map<std::string, std::size_t> in_table;
  for (const compare::Row& row : compare::rows()) {
    INFO(row.key);
    CHECK(in_table.emplace(row.key, row.fields.size()).second);
    CHECK(!row.what.empty());
  }
  CHECK(in_table == sealed);
}

TEST_CASE("a key without a row is compared under its sealed name") {
  const compare::Row row = compare::row_of("manifest.later", 2);
  CHECK(row.what == "manifest.later");
  REQUIRE(row.fields.size() == 2);
  CHECK(row.fields[1].use == compare::Use::compared);
}
