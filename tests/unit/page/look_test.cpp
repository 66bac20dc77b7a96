// Not a check: writes the hardest pages for tests/pages/look, which looks at them with a browser.
#include <fstream>

#include "pages.h"
#include "support/fill.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

void write(const char* name, const std::string& html) {
  std::ofstream(name) << html;
}

} // namespace

TEST_CASE("the fullest pages are written where the program runs", "[.look]") {
  package::Package package = example_package();
  package.signoffs.clear();
  Filler filler;
  visit(filler, package.manifest);
  Filler facts;
  visit(facts, package.facts);
  // Japanese, Hebrew, Tamil and German: no blank to break at, right to left, marks, a long word.
  package.facts.firmware_name.set("凍結警報ノード・最終版・二〇二六年三月.hex");
  package.facts.findings.items[0].text.set("הלוח ללא הגנה מפני מתח הפוך, נבדק ביד");
  package.facts.findings.items[1].text.set("பலகை சரிபார்க்கப்பட்டது");
  package.facts.findings.items[2].text.set(
      "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaft");
  write("review-full.html", page::review_page({package}));
}
