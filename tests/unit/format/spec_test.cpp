// lib/format/SPEC.md says what the code does, in both directions.
#include "base/utf8.h"
#include "support/describe.h"
#include "support/sealed_examples.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// One row a line, so that a difference shows as text.
std::string listed(const Table& table, std::size_t columns) {
  std::string out;
  for (const TableRow& row : table) {
    REQUIRE(row.size() >= columns);
    for (std::size_t i = 0; i < columns; ++i) {
      out += (i == 0 ? "" : " | ") + plain(row[i]);
    }
    out += "\n";
  }
  return out;
}

std::string listed(const Description& description) {
  std::string out;
  for (const LineRow& row : description.lines) {
    out += row.key + " | " + row.fields + " | " + row.lines + "\n";
  }
  return out;
}

std::string listed(const std::vector<std::string>& keys) {
  std::string out;
  for (const std::string& key : keys) {
    out += key + "\n";
  }
  return out;
}

char32_t code_point(const std::string& cell) {
  return static_cast<char32_t>(std::stoul(cell.substr(2), nullptr, 16));
}

} // namespace

TEST_CASE("every table of keys and fields is what the reader and the writer go by") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::vector<Table> tables = spec().tables("## Kind `" + std::string(T::kind) + "`");
    const Description description = describe<T>();
    REQUIRE_FALSE(tables.empty());
    CHECK(listed(tables[0], 3) == listed(description));
    CHECK(listed(tables.size() > 1 ? tables[1] : Table{}, 1) == listed(description.rule_keys));
  });
}

TEST_CASE("every kind and its longest text stand in the table of kinds") {
  std::string expected;
  for_each_kind([&](auto kind) {
    using T = typename decltype(kind)::type;
    expected += std::string(T::kind) + " | " + std::to_string(T::limit) + "\n";
  });
  CHECK(listed(spec().tables("### Kinds").at(0), 2) == expected);
}

TEST_CASE("every field's meaning is stated") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    for (const Table& table : spec().tables("## Kind `" + std::string(T::kind) + "`")) {
      for (const TableRow& row : table) {
        INFO(row[0]);
        CHECK_FALSE(row.back().empty());
      }
    }
  });
}

TEST_CASE("the harmful characters are those of the table, among all code points") {
  const Table table = spec().tables("### Harmful characters").at(0);
  for (char32_t code = 0; code <= 0x10FFFF; ++code) {
    bool harmful = (code & 0xFFFEU) == 0xFFFEU;
    for (const TableRow& row : table) {
      harmful = harmful || (code >= code_point(row[0]) && code <= code_point(row[1]));
    }
    if (harmful == is_harmless(code)) {
      CAPTURE(static_cast<std::uint32_t>(code));
      FAIL("the table and the code differ");
    }
  }
}

TEST_CASE("each kind's example is accepted and spelled again to the same bytes") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    const std::string text = example_of<T>();
    INFO(text);
    T value{};
    const Outcome outcome = format::decode(bytes_of(text), value);
    CAPTURE(static_cast<int>(outcome.fault), outcome.position);
    CHECK(outcome.ok());
    CHECK(encoded(value) == text);
  });
}
