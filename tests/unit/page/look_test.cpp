// Not a check: writes the hardest pages for tests/pages/look, which looks at them with a browser.
#include <fstream>

#include "page/lot_pages.h"
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

TEST_CASE("a full lot is written where the program runs", "[.look]") {
  runlog::Account account;
  runlog::Yields yields;
  registry::AllotmentRow row;
  row.station = "a-station-of-16c";
  row.work_order = "WO-2026-0000000000000001";
  row.units = 500;
  runlog::AllotmentAccount& allotment = account.allotments.emplace_back();
  allotment.row = row;
  allotment.counts = {90, 10, 100, 300};
  for (std::uint64_t place = 0; place < 500; ++place) {
    allotment.open.push_back(
        {place, {runlog::UnitState::failed, false, 4, 7, "NO-CONTACT-AT-ALL"}});
  }
  account.problems.assign(20, {"serial-twice", "card-01-of-a-long-name-LOG.CSV",
                               "ordinal 17 went to 2 boards, which nobody can undo"});
  account.untold.assign(12, {row, false});
  for (std::uint64_t i = 0; i < 32; ++i) {
    yields.slots.push_back({row.station, std::to_string(i + 1), 100 + i, 90 - i, 95, {}, {}});
    yields.slots.back().first_range = runlog::wilson({90 - i, 100 + i});
    yields.slots.back().good_range = runlog::wilson({95, 100 + i});
    account.failures.push_back({"OUTCOME-" + std::to_string(i), 100 / (i + 1)});
  }
  yields.lots.emplace().mean = 0.1;
  for (std::uint64_t i = 0; i < 40; ++i) {
    const std::uint64_t good = 180 - i % 7 * (i == 12 ? 8 : 2);
    yields.work_orders.push_back({"", "WO-" + std::to_string(1000 + i), 200, good, good, {}, {}});
    yields.work_orders.back().first_range = runlog::wilson({good, 200});
    yields.lots->limits.push_back(runlog::chart_limits(0.1, 200));
  }
  write("lot-full.html", page::lot_page({account, yields, {}, {"register desk.register"}}));
}
