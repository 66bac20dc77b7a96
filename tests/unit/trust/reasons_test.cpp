// lib/trust/REASONS.md and the table of reasons in base/fault.cpp are one.
#include "base/fault.h"
#include "support/markdown.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

std::string listed(const Table& table) {
  std::string out;
  for (const TableRow& row : table) {
    REQUIRE(row.size() == 4);
    out += row[0] + " | " + plain(row[1]) + " | " + row[2] + " | " + row[3] + "\n";
  }
  return out;
}

} // namespace

TEST_CASE("every reason stands in the page as in the code, and no other") {
  const Markdown page("lib/trust/REASONS.md");
  Table all;
  for (const char* heading :
       {"## 1xx: the form of a sealed text", "## 2xx: the form of a package",
        "## 30x to 33x: roots, trust list, card index, signatures, withdrawals",
        "## 34x to 35x: sign-offs", "## 36x: the manifest", "## 38x to 39x: the allotment",
        "## 4xx: the settings against the station's limits", "## 5xx: the card",
        "## 6xx: the station itself"}) {
    const std::vector<Table> tables = page.tables(heading);
    INFO(heading);
    REQUIRE(tables.size() == 1);
    all.insert(all.end(), tables[0].begin(), tables[0].end());
  }
  std::string expected;
  for (const FaultText& text : all_faults()) {
    expected += std::to_string(static_cast<unsigned>(text.fault)) + " | " +
                std::string(text.display) + " | " + std::string(text.sentence) + " | " +
                std::string(text.advice) + "\n";
  }
  CHECK(listed(all) == expected);
}
