// Rules: code, pages and cases hold each other, and every rule finds what it says, and nothing
// where it should not.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <set>

#include "job/rules.h"
#include "releases.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

std::set<std::string> ids() {
  std::set<std::string> out;
  for (const Rule* rule : job::all_rules) {
    out.insert(std::string(rule->id));
  }
  return out;
}

std::string first_words(const Rule& rule) {
  switch (rule.severity) {
  case Severity::note:
    return "Notes. ";
  case Severity::warn:
    return "Warns. ";
  case Severity::waived: // no rule's own
    return "";
  case Severity::refuse:
    return rule.waivable ? "Refuses, unless quality waives it. " : "Refuses. ";
  }
  return "";
}

std::string sentence(std::string_view title) {
  std::string out(title);
  out[0] = static_cast<char>(out[0] - ('a' <= out[0] && out[0] <= 'z' ? 'a' - 'A' : 0));
  return out + ".";
}

} // namespace

TEST_CASE("every rule has a page, and every page a rule") {
  std::set<std::string> pages;
  for (const auto& entry : std::filesystem::directory_iterator(source_path("lib/job/rules"))) {
    CHECK(entry.path().extension() == ".md");
    pages.insert(entry.path().stem().string());
  }
  CHECK(pages == ids());
}

TEST_CASE("a rule's page says its severity, title, what, why and what to do") {
  for (const Rule* rule : job::all_rules) {
    const std::string id(rule->id);
    const std::string page = text_of_file(source_path("lib/job/rules/" + id + ".md"));
    INFO(page);
    CHECK(page.starts_with("# " + id + "\n\n" + first_words(*rule) + sentence(rule->title) +
                           "\n\n**What.** "));
    CHECK_THAT(page, ContainsSubstring("\n\n**Why.** "));
    CHECK_THAT(page, ContainsSubstring("\n\n**To do.** "));
  }
}

// Other modules may have cases there too: those must name a rule of some page.
TEST_CASE("every rule has a case, and every case a page") {
  std::set<std::string> folders;
  for (const auto& entry : std::filesystem::directory_iterator(source_path("tests/rules"))) {
    folders.insert(entry.path().filename().string());
  }
  for (const std::string& id : ids()) {
    INFO(id);
    CHECK(folders.contains(id));
  }
  for (const std::string& folder : folders) {
    const auto modules = std::filesystem::directory_iterator(source_path("lib"));
    INFO(folder);
    CHECK(std::any_of(begin(modules), end(modules), [&](const auto& module) {
      return std::filesystem::exists(module.path() / "rules" / (folder + ".md"));
    }));
  }
}

TEST_CASE("a rule finds what its case holds, in the words approved, and nothing in the case that "
          "passes") {
  std::set<std::string> refused_otherwise; // cases that pass this rule alone
  for (const Rule* rule : job::all_rules) {
    const std::string folder = "tests/rules/" + std::string(rule->id);
    INFO(folder);
    const job::CompiledRelease fails = compiled_case(folder + "/fails");
    CHECK(found_by(*rule, fails.findings, source_path(folder)) ==
          text_of_file(source_path(folder + "/approved")));
    CHECK(fails.findings.count(*rule) != 0);
    CHECK(fails.findings.refused() >= (rule->severity == Severity::refuse));
    const job::CompiledRelease passes = compiled_case(folder + "/passes");
    CHECK(found_by(*rule, passes.findings, source_path(folder)) == "");
    CHECK(passes.findings.count(*rule) == 0);
    if (passes.findings.refused()) {
      refused_otherwise.insert(std::string(rule->id));
    }
  }
  // These are too small to be whole releases, or pass by failing worse elsewhere; no other may.
  CHECK(refused_otherwise ==
        std::set<std::string>{"firmware-no-data", "firmware-note", "firmware-outside-device",
                              "serial-confusable", "serial-no-placeholder", "serial-not-erased",
                              "serial-shares-write-unit", "supply-above-absolute-max",
                              "supply-outside-operating", "supply-outside-programming",
                              "supply-outside-station"});
}

TEST_CASE("the findings of a case are hinted, placed, and short enough to be sealed whole") {
  for (const Rule* rule : job::all_rules) {
    const std::string folder = "tests/rules/" + std::string(rule->id);
    const job::CompiledRelease fails = compiled_case(folder + "/fails");
    for (const Finding& finding : fails.findings.kept()) {
      INFO(job::spell(finding));
      CHECK_FALSE(finding.hint.empty());
      CHECK(finding.place.line != 0);
      CHECK((finding.text.size() <= 192 || finding.rule->severity == Severity::refuse));
      CHECK(finding.text.find_first_of("\"\\") == std::string::npos);
      CHECK(finding.text.back() != '.');
    }
  }
}
