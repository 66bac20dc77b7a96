// Pages about a lot: every value that they are made of shows, hostile text stays text, and a lot
// that is larger than a page says what it leaves out.
#include <functional>

#include "page/lot_pages.h"
#include "shown.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

registry::AllotmentRow row_with(const std::string& words) {
  registry::AllotmentRow row;
  row.id = 1;
  row.card.fill(0xA1);
  row.station = words;
  row.enrolment = 2;
  row.serial = 3;
  row.scheme = "fn-serial";
  row.range = {10, 6};
  row.units = 6;
  row.enabled_slots = 0x3F;
  row.date_code = words;
  row.product = words;
  row.work_class = "production";
  row.work_order = words;
  row.sealed_text.emplace().fill(0x5E);
  row.time = words;
  row.begun = 4;
  row.good = 3;
  return row;
}

struct Made { // everything that the three pages are made of
  std::string words;
  recall::Question question;
  recall::Answer answer;
  runlog::Account account;
  runlog::Yields yields;
  std::vector<page::CardOfSet> cards;
  runlog::TallyAccount tally;
  std::vector<std::string> sources;
  package::Package package = example_package();

  explicit Made(const std::string& text) : words(text) {
    sources = {text};
    question.where = {{recall::Key::reel, text, {}}};
    question.given = {{row_with(text), {}}};
    answer.spans = {{0, 1, 2, recall::List::affected, text},
                    {0, 3, 3, recall::List::possibly, text}};
    answer.units = {2, 3, 0};
    account.logs.emplace_back().file = text;
    account.allotments.emplace_back().row = row_with(text);
    account.allotments[0].open = {{2, {runlog::UnitState::failed, false, 4, 7, text}}};
    account.allotments[0].counts = {3, 0, 1, 2};
    account.failures = {{text, 5}, {"OTHER", 2}};
    account.untold = {{row_with(text), false}};
    account.problems = {{text, text, text}};
    yields.slots = {{text, "4", 20, 17, 18, {0.6, 0.9}, {0.7, 0.95}}};
    yields.work_orders = {{"", text, 20, 17, 18, {0.6, 0.9}, {0.7, 0.95}},
                          {"", text + "2", 30, 29, 30, {0.8, 0.99}, {0.9, 1}}};
    yields.lots = runlog::LotChart{0.08, {{0, 0.3}, {0, 0.25}}};
    yields.findings.emplace_back().sentence = text;
    yields.groups.emplace_back().sentence = text;
    cards = {{row_with(text), {{{registry::Fate::on_card, text, text}, text}}, format::Digest{7}}};
    tally.row = row_with(text);
    tally.tally = {6, 4, 2, 40, 46, {text, text}, {11}};
    tally.used = 6;
    tally.begun = 5;
    tally.returned = 1;
    tally.problems = {{text, "", text}};
  }

  std::vector<const package::Package*> packages() const { return {&package}; }
  std::string recall_page() const {
    recall::Question asked = question;
    asked.packages = packages();
    return page::recall_page({asked, answer, sources});
  }
  std::string lot_page() const { return page::lot_page({account, yields, packages(), sources}); }
  std::string tally_page() const { return page::tally_page({tally, packages(), sources}); }
  std::string set_page() const { return page::card_set_page({words, cards, packages(), sources}); }
};

struct Change {
  const char* what;
  std::function<void(Made&)> make;
};

void check_each(const std::vector<Change>& changes,
                const std::function<std::string(const Made&)>& page) {
  const std::string before = page(Made("harmless"));
  for (const Change& change : changes) {
    INFO(change.what);
    Made made("harmless");
    change.make(made);
    CHECK(page(made) != before);
  }
}

format::Signoff& signoff_of(Made& m) {
  return m.package.signoffs.front().signoff;
}

// Property 15: name, role, meaning, time, key and digest of each sign-off.
const std::vector<Change> signoff_changes{
    {"person", [](Made& m) { signoff_of(m).person.set("other"); }},
    {"role", [](Made& m) { signoff_of(m).role = format::Role::engineering; }},
    {"meaning", [](Made& m) { signoff_of(m).meaning.set("other"); }},
    {"reason", [](Made& m) { signoff_of(m).reason.set("other"); }},
    {"time", [](Made& m) { signoff_of(m).time.year += 1; }},
    {"key", [](Made& m) { signoff_of(m).key[0] ^= 1; }},
    {"digest", [](Made& m) { m.package.signoffs.front().digest[0] ^= 1; }},
    {"nobody signed", [](Made& m) { m.package.signoffs.clear(); }},
    {"package", [](Made& m) { m.package.manifest_digest[0] ^= 1; }},
    {"source", [](Made& m) { m.sources[0] = "other"; }}};

std::vector<Change> with_signoffs(std::vector<Change> changes) {
  changes.insert(changes.end(), signoff_changes.begin(), signoff_changes.end());
  return changes;
}

} // namespace

TEST_CASE("each value of a recall, changed alone, changes its page") {
  check_each(
      with_signoffs(
          {{"where", [](Made& m) { m.question.where[0].value = "other"; }},
           {"card", [](Made& m) { m.question.given[0].row.card[0] ^= 1; }},
           {"station", [](Made& m) { m.question.given[0].row.station = "other"; }},
           {"work order", [](Made& m) { m.question.given[0].row.work_order = "other"; }},
           {"first", [](Made& m) { m.question.given[0].row.range.first += 1; }},
           {"units", [](Made& m) { m.question.given[0].row.units += 1; }},
           {"a log of it",
            [](Made& m) { m.question.logs.emplace_back().card = m.question.given[0].row.card; }},
           {"list", [](Made& m) { m.answer.spans[0].list = recall::List::cleared; }},
           {"unit", [](Made& m) { m.answer.spans[0].first += 1; }},
           {"count", [](Made& m) { m.answer.spans[0].count += 1; }},
           {"reason", [](Made& m) { m.answer.spans[0].reason = "other"; }},
           {"affected", [](Made& m) { m.answer.units[0] += 1; }},
           {"possibly", [](Made& m) { m.answer.units[1] += 1; }},
           {"cleared", [](Made& m) { m.answer.units[2] += 1; }}}),
      [](const Made& m) { return m.recall_page(); });
}

TEST_CASE("each value of a lot's account, changed alone, changes the report") {
  check_each(
      with_signoffs(
          {{"log's file", [](Made& m) { m.account.logs[0].file = "other"; }},
           {"log's card", [](Made& m) { m.account.logs[0].card[0] ^= 1; }},
           {"log's records", [](Made& m) { m.account.logs[0].records += 1; }},
           {"card", [](Made& m) { m.account.allotments[0].row.card[0] ^= 1; }},
           {"station", [](Made& m) { m.account.allotments[0].row.station = "other"; }},
           {"spare", [](Made& m) { m.account.allotments[0].row.spare = true; }},
           {"unused", [](Made& m) { m.account.allotments[0].counts[0] += 1; }},
           {"in doubt", [](Made& m) { m.account.allotments[0].counts[1] += 1; }},
           {"failed", [](Made& m) { m.account.allotments[0].counts[2] += 1; }},
           {"good", [](Made& m) { m.account.allotments[0].counts[3] += 1; }},
           {"state",
            [](Made& m) {
              m.account.allotments[0].open[0].unit.state = runlog::UnitState::in_doubt;
            }},
           {"slot", [](Made& m) { m.account.allotments[0].open[0].unit.slot = 5; }},
           {"session", [](Made& m) { m.account.allotments[0].open[0].unit.session = 5; }},
           {"outcome", [](Made& m) { m.account.allotments[0].open[0].unit.outcome = "other"; }},
           {"failure", [](Made& m) { m.account.failures[1].outcome = "other"; }},
           {"tries", [](Made& m) { m.account.failures[1].tries += 1; }},
           {"untold units", [](Made& m) { m.account.untold[0].row.units += 1; }},
           {"untold begun", [](Made& m) { m.account.untold[0].row.begun += 1; }},
           {"untold good", [](Made& m) { m.account.untold[0].row.good += 1; }},
           {"blank log", [](Made& m) { m.account.untold[0].blank_log = true; }},
           {"problem", [](Made& m) { m.account.problems[0].what = "other"; }},
           {"problem's file", [](Made& m) { m.account.problems[0].file = "other"; }},
           {"problem's code", [](Made& m) { m.account.problems[0].code = "other"; }},
           {"yield's units", [](Made& m) { m.yields.slots[0].units += 1; }},
           {"yield's first pass", [](Made& m) { m.yields.slots[0].first_pass += 1; }},
           {"yield's good", [](Made& m) { m.yields.slots[0].good += 1; }},
           {"interval", [](Made& m) { m.yields.slots[0].first_range.low = 0.5; }},
           {"interval's end", [](Made& m) { m.yields.slots[0].good_range.high = 0.97; }},
           {"lot", [](Made& m) { m.yields.work_orders[1].first_pass -= 1; }},
           {"mean", [](Made& m) { m.yields.lots->mean = 0.1; }},
           {"limit", [](Made& m) { m.yields.lots->limits[0].high = 0.2; }},
           {"no chart", [](Made& m) { m.yields.lots.reset(); }},
           {"slot that differs", [](Made& m) { m.yields.findings[0].sentence = "other"; }},
           {"group that differs", [](Made& m) { m.yields.groups[0].sentence = "other"; }}}),
      [](const Made& m) { return m.lot_page(); });
}

TEST_CASE("each value of a card set, changed alone, changes its page") {
  check_each(with_signoffs(
                 {{"work order", [](Made& m) { m.words = "other"; }},
                  {"card", [](Made& m) { m.cards[0].row.card[0] ^= 1; }},
                  {"station", [](Made& m) { m.cards[0].row.station = "other"; }},
                  {"enrolment", [](Made& m) { m.cards[0].row.enrolment += 1; }},
                  {"allotment", [](Made& m) { m.cards[0].row.serial += 1; }},
                  {"first", [](Made& m) { m.cards[0].row.range.first += 1; }},
                  {"units", [](Made& m) { m.cards[0].row.units += 1; }},
                  {"slots", [](Made& m) { m.cards[0].row.enabled_slots = 1; }},
                  {"date code", [](Made& m) { m.cards[0].row.date_code.reset(); }},
                  {"spare", [](Made& m) { m.cards[0].row.spare = true; }},
                  {"manifest", [](Made& m) { m.cards[0].row.manifest[0] ^= 1; }},
                  {"product", [](Made& m) { m.cards[0].row.product = "other"; }},
                  {"class", [](Made& m) { m.cards[0].row.work_class = "pilot"; }},
                  {"sealed", [](Made& m) { m.cards[0].row.sealed_text.reset(); }},
                  {"time", [](Made& m) { m.cards[0].row.time = "other"; }},
                  {"image", [](Made& m) { m.cards[0].image.reset(); }},
                  {"fate", [](Made& m) { m.cards[0].fates[0].note.fate = registry::Fate::lost; }},
                  {"who", [](Made& m) { m.cards[0].fates[0].note.by = "other"; }},
                  {"note", [](Made& m) { m.cards[0].fates[0].note.note = "other"; }},
                  {"when", [](Made& m) { m.cards[0].fates[0].time = "other"; }}}),
             [](const Made& m) { return m.set_page(); });
}

TEST_CASE("each value of a hand tally, changed alone, changes its page") {
  check_each(with_signoffs(
                 {{"card", [](Made& m) { m.tally.row.card[0] ^= 1; }},
                  {"station", [](Made& m) { m.tally.row.station = "other"; }},
                  {"work order", [](Made& m) { m.tally.row.work_order = "other"; }},
                  {"first", [](Made& m) { m.tally.row.range.first += 1; }},
                  {"units", [](Made& m) { m.tally.row.units += 1; }},
                  {"boards", [](Made& m) { m.tally.tally.issued += 1; }},
                  {"good", [](Made& m) { m.tally.tally.good += 1; }},
                  {"scrap", [](Made& m) { m.tally.tally.scrap += 1; }},
                  {"before", [](Made& m) { m.tally.tally.counter_before += 1; }},
                  {"after", [](Made& m) { m.tally.tally.counter_after += 1; }},
                  {"one", [](Made& m) { m.tally.tally.initials[0] = "AA"; }},
                  {"other", [](Made& m) { m.tally.tally.initials[1] = "BB"; }},
                  {"scrapped", [](Made& m) { m.tally.tally.scrapped[0] += 1; }},
                  {"used", [](Made& m) { m.tally.used += 1; }},
                  {"begun", [](Made& m) { m.tally.begun += 1; }},
                  {"returned", [](Made& m) { m.tally.returned += 1; }},
                  {"known",
                   [](Made& m) {
                     m.tally.problems.clear();
                     m.tally.good_known = true;
                   }},
                  {"a unit without a board", [](Made& m) { m.tally.tally.no_board.push_back(12); }},
                  {"no problem", [](Made& m) { m.tally.problems.clear(); }},
                  {"problem", [](Made& m) { m.tally.problems[0].what = "other"; }},
                  {"code", [](Made& m) { m.tally.problems[0].code = "other"; }}}),
             [](const Made& m) { return m.tally_page(); });
}

TEST_CASE("hostile text in every field stays text on the pages about a lot") {
  for (const std::string_view text : hostile) {
    INFO(text);
    const Made bad{std::string(text)};
    const Made good{harmless_for(text)};
    check_same_shown(bad.recall_page(), good.recall_page(), text);
    check_same_shown(bad.lot_page(), good.lot_page(), text);
    check_same_shown(bad.set_page(), good.set_page(), text);
    check_same_shown(bad.tally_page(), good.tally_page(), text);
  }
}

TEST_CASE("a lot larger than a page has its exceptions, and says what it leaves out") {
  Made made("harmless");
  made.answer.spans.assign(2000, {0, 1, 1, recall::List::cleared, "a reason of some length"});
  made.answer.spans.back().list = recall::List::affected;
  const std::string recalled = made.recall_page();
  CHECK(recalled.size() < 500 * 1024);
  CHECK(recalled.find("This page has 500 of 2000 rows") != std::string::npos);
  CHECK(recalled.find("spans.1999.count") != std::string::npos); // affected, so not left out
  made.account.allotments[0].open.assign(
      3000, {1, {runlog::UnitState::failed, false, 4, 7, "NO-CONTACT"}});
  made.yields.slots.assign(32, made.yields.slots[0]);
  made.yields.sessions.assign(200, made.yields.slots[0]);
  made.yields.work_orders.assign(60, made.yields.work_orders[0]);
  made.yields.lots->limits.assign(60, {0, 0.3});
  const std::string report = made.lot_page();
  CHECK(report.size() < 500 * 1024);
  CHECK(report.find("2800 more are not on this page") != std::string::npos);
}
