// Three lists of units, from what registers, packages and logs tell; what is not known clears none.
#include "recall/recall.h"
#include "support/catch.h"
#include "unit/runlog/logs.h"

using namespace cardseal;
using namespace cardseal::recall;

namespace {

std::vector<Condition> where(const std::vector<std::string>& texts) {
  std::vector<Condition> out;
  for (const std::string& text : texts) {
    Try<Condition> parsed = parse_condition(text);
    INFO(text);
    REQUIRE(parsed.has_value());
    out.push_back(*parsed);
  }
  return out;
}

// The lists of a card's units in their order: 'a', 'p' or 'c' each.
std::string lists(const Answer& answer) {
  std::string out;
  for (const Span& span : answer.spans) {
    out.append(span.count, recall::list_words[static_cast<std::size_t>(span.list)][0]);
  }
  return out;
}

struct Case {
  Question question;
  Case(std::uint64_t units, const std::vector<std::string>& conditions) {
    question.where = where(conditions);
    question.given.push_back({runlog::row_of(units), std::nullopt});
  }
  Case& log(const std::vector<runlog::Entry>& entries) {
    question.logs.push_back(runlog::log_of(entries));
    return *this;
  }
  Case& results(std::uint8_t begun) {
    question.given[0].results = registry::Results{{begun}, {0}};
    return *this;
  }
  // The card came back and was reconciled after that: ordinals 100 to 103 were begun.
  Case& back(std::uint8_t begun = 0x0F) {
    question.given[0].row.counted_after_return = true;
    return results(begun);
  }
  std::string lists() const { return ::lists(recall::recall(question)); }
  std::string reasons() const {
    std::string out;
    for (const Span& span : recall::recall(question).spans) {
      out += span.reason + "\n";
    }
    return out;
  }
};

// Units 0 to 3 of ordinals 100 to 103, unit 4 never begun.
const std::vector<runlog::Entry> day{{1, 1, 1, 100, "BEGUN"}, {1, 1, 1, 100, "GOOD"},
                                     {1, 1, 2, 101, "BEGUN"}, {1, 1, 2, 101, "GOOD"},
                                     {2, 1, 2, 102, "BEGUN"}, {2, 1, 2, 102, "GOOD"},
                                     {2, 1, 1, 103, "BEGUN"}};

} // namespace

TEST_CASE("units are told apart by slot and session") {
  CHECK(Case(5, {"slot=2"}).log(day).back().lists() == "caacc");
  CHECK(Case(5, {"slot=2", "session=2"}).log(day).back().lists() == "ccacc");
  // Begun without an end is affected too.
  CHECK(Case(5, {"slot=1"}).log(day).back().lists() == "accac");
  CHECK(Case(5, {"slot=3"}).log(day).back().lists() == "ccccc");
  CHECK(Case(5, {"slot=2", "station=orchard-1"}).log(day).back().lists() == "caacc");
  CHECK(Case(5, {"slot=2", "station=ORCHARD-1"}).log(day).back().lists() == "caacc");
  CHECK(Case(5, {"slot=2", "station=orchard-2"}).log(day).lists() == "ccccc");
}

TEST_CASE("a board is told under its new number no better than under the old one") {
  Case two(5, {"slot=2"});
  two.log(day).back();
  Given later{runlog::row_of(4), std::nullopt};
  later.row.card = {9};
  later.row.range = {200, 4};
  later.row.counted_after_return = true;
  later.results = registry::Results{{0x07}, {0x07}};
  add_given(two.question.given, {later});
  runlog::LogFile other = runlog::log_of({{1, 1, 1, 200, "BEGUN"},
                                          {1, 1, 1, 200, "GOOD"},
                                          {1, 1, 2, 201, "BEGUN"},
                                          {1, 1, 2, 201, "GOOD"},
                                          {1, 1, 3, 202, "BEGUN"},
                                          {1, 1, 3, 202, "GOOD"}});
  other.card = {9};
  two.question.logs.push_back(other);
  REQUIRE(two.lists() == "caaccc"
                         "acc"); // each by itself
  // Unit 1 (slot 2) is unit 0 of the other card now, unit 0 (slot 1) unit 1 and unit 3 unit 2.
  two.question.given[0].renumbered = {{1, 1, 0}, {0, 1, 1}, {3, 1, 2}};
  CHECK(two.lists() == "caacca"
                       "acc");
  CHECK_THAT(two.reasons(), ContainsSubstring("is also unit 2 of card "));
  // Three boards have two numbers each: two are affected; unit 3 is cleared with both.
  CHECK(recall::recall(two.question).told_twice == std::array<std::uint64_t, 3>{1, 0, 2});
  CHECK_THAT(two.reasons(), ContainsSubstring("1: begun with slot 2"));
  // What is not known of the old number clears no new one; and a third number follows the second.
  two.question.logs.erase(two.question.logs.begin());
  two.question.given[1].renumbered = {{0, 1, 3}};
  CHECK(two.lists() == "ppppp"
                       "papp");
  std::uint64_t units = 0;
  for (const std::uint64_t each : recall::recall(two.question).units) {
    units += each;
  }
  CHECK(units == 9);
}

TEST_CASE("a log whose card may have worked on clears only what it has as good") {
  CHECK(Case(5, {"slot=2"}).log(day).lists() == "caapp");
  CHECK(Case(5, {"slot=2"}).log(day).results(0x0F).lists() == "caapp");
  CHECK(Case(5, {"slot=2"}).log({}).lists() == "ppppp");
  // Another count than the log has: it is not the log that came back.
  CHECK(Case(5, {"slot=2"}).log(day).back(0x1F).lists() == "caapp");
  CHECK(Case(5, {"slot=2"}).log(day).back(0x07).lists() == "caapp");
  // An earlier log of the card may be gone.
  Case again(5, {"slot=2"});
  again.log(day).question.given[0].row.rewritten = true;
  CHECK(again.lists() == "paapp");
}

TEST_CASE("a record that fits no unit of its card makes the log unsure") {
  for (const bool station : {true, false}) {
    Case stray(5, {"slot=2"});
    stray.log(day).back();
    runlog::LogFile& log = stray.question.logs[0];
    log.lines.push_back(log.lines[0]);
    log.lines.back().sector = 8;
    if (station) {
      REQUIRE(log.lines.back().record.station.set("ORCHARD-9"));
    } else {
      log.lines.back().record.ordinal.set(900);
    }
    CHECK(stray.lists() == "paapp");
  }
}

TEST_CASE("a log that is missing, has gaps or was copied clears nobody") {
  CHECK(Case(5, {"slot=2"}).lists() == "ppppp");
  CHECK(Case(5, {"slot=2"}).results(0x0F).lists() == "ppppp");
  for (const auto faulty : {&runlog::LogFile::spoiled, &runlog::LogFile::broken}) {
    Case gaps(5, {"slot=2"});
    gaps.log(day).back();
    (gaps.question.logs[0].*faulty).push_back(3);
    CHECK(gaps.lists() == "paapp");
  }
  Case cut(5, {"slot=2"});
  cut.log(day).back();
  cut.question.logs[0].missing_sectors = 1;
  CHECK(cut.lists() == "paapp");
  // Two cards of one id were worked with: each has a record that the other lacks.
  std::vector<runlog::Entry> other(day.begin(), day.begin() + 6);
  other.push_back({3, 1, 2, 104, "BEGUN"});
  CHECK(Case(5, {"slot=2"}).log(day).log(other).back().lists() == "paapa");
}

TEST_CASE("an older copy of a log beside the newer one changes nothing") {
  const std::vector<runlog::Entry> early(day.begin(), day.begin() + 4);
  CHECK(Case(5, {"slot=2"}).log(early).log(day).back().lists() == "caacc");
  CHECK(Case(5, {"slot=2"}).log(day).log(early).back().lists() == "caacc");
}

TEST_CASE("what the register knows as begun is not cleared by a log without it") {
  const std::vector<runlog::Entry> early(day.begin(), day.begin() + 4);
  CHECK(Case(5, {"slot=2"}).log(early).back().lists() == "cappp");
}

TEST_CASE("a word that nobody entered may be the one asked for") {
  Case some(5, {"fixture=F-7"});
  some.log(day).back();
  some.question.logs[0].lines[0].record.fixture.set("F-7");
  some.question.logs[0].lines[1].record.fixture.set("F-7");
  some.question.logs[0].lines[2].record.fixture.set("F-8");
  some.question.logs[0].lines[3].record.fixture.set("F-8");
  CHECK(some.lists() == "acppc");
  CHECK(some.reasons().find("fixture was not entered") != std::string::npos);
}

TEST_CASE("days are compared where days were entered") {
  Case days(5, {"date=2026-03-02..2026-03-03"});
  days.log(day).back();
  const char* entered[] = {"2026-03-01", "2026-03-01", "2026-03-02", "2026-03-02",
                           "2026-03-04", "2026-03-04", "MONDAY"};
  for (std::size_t i = 0; i < day.size(); ++i) {
    days.question.logs[0].lines[i].record.date.set(entered[i]);
  }
  CHECK(days.lists() == "cacpc");
  CHECK(days.reasons().find("date MONDAY is no day to compare") != std::string::npos);
  days.question.where = where({"date=2026-03-02"});
  CHECK(days.lists() == "cacpc");
}

TEST_CASE("boards without serials can't be told apart") {
  Case plain(4, {"slot=2"});
  plain.question.given[0].row = runlog::row_of(4, false);
  plain.log(day);
  CHECK(plain.lists() == "pppp");
}

TEST_CASE("where the card decides, only a unit of a card that is back and counted is cleared") {
  CHECK(Case(5, {"station=orchard-1"}).lists() == "ppppp");
  CHECK(Case(5, {"station=orchard-1"}).results(0x03).lists() == "aappp");
  CHECK(Case(5, {"station=orchard-1"}).log(day).lists() == "aaaap");
  CHECK(Case(5, {"station=orchard-1"}).log(day).back().lists() == "aaaac");
  CHECK(Case(5, {"station=orchard-1"}).back(0x03).lists() == "aappp"); // no log given: a tally?
  CHECK(Case(5, {"station=orchard-2"}).lists() == "ccccc");
}

TEST_CASE("a value that no card has is most likely mistyped") {
  Case one(5, {"slot=2"});
  for (const char* text : {"station=orchard-9", "work-order=wo-1", "product=nothing"}) {
    CHECK(is_of_nothing(one.question.given, where({text})[0]));
  }
  for (const char* text : {"station=Orchard-1", "work-order=WO-1", "slot=9"}) {
    CHECK_FALSE(is_of_nothing(one.question.given, where({text})[0]));
  }
  CHECK_FALSE(is_of_nothing(one.question.given, where({"deviation=D-7"})[0])); // nobody knows
}

TEST_CASE("what only a package knows is unknown without it, unless something else decides") {
  const std::string key(64, 'a');
  CHECK(Case(5, {"firmware=" + key}).results(0x03).lists() == "ppppp");
  CHECK(Case(5, {"signed-by=" + key}).results(0x03).lists() == "ppppp");
  CHECK(Case(5, {"deviation=D-7"}).results(0x03).lists() == "ppppp");
  CHECK(Case(5, {"deviation=D-7", "station=orchard-2"}).lists() == "ccccc");
}

TEST_CASE("firmware, deviation and signature are read from the package that was used") {
  package::Package package;
  package.manifest_digest = format::Digest{9};
  package.facts.firmware_digest = format::Digest{7};
  format::Deviation deviation;
  REQUIRE(deviation.number.set("D-7"));
  package.facts.deviations.add(deviation);
  package.signoffs.resize(1);
  package.signoffs[0].signoff.key = format::Key{5};
  const auto lists_of = [&](const std::string& condition) {
    Case one(2, {condition});
    one.results(0x01).question.given[0].row.manifest = format::Digest{9};
    one.question.packages = {&package};
    return one.lists();
  };
  CHECK(lists_of("firmware=07" + std::string(62, '0')) == "ap");
  CHECK(lists_of("firmware=08" + std::string(62, '0')) == "cc");
  CHECK(lists_of("deviation=D-7") == "ap");
  CHECK(lists_of("deviation=D-8") == "cc");
  CHECK(lists_of("signed-by=05" + std::string(62, '0')) == "ap");
  CHECK(lists_of("signed-by=06" + std::string(62, '0')) == "pp"); // not signed off yet
  package.signoffs.resize(2);
  package.signoffs[0].signoff.role = format::Role::release;
  package.signoffs[1].signoff.role = format::Role::quality;
  CHECK(lists_of("signed-by=06" + std::string(62, '0')) == "cc");
  CHECK(lists_of("signed-by=05" + std::string(62, '0')) == "ap");
}

TEST_CASE("every unit of every card stands in exactly one list") {
  Case two(5, {"slot=2"});
  two.log(day).back();
  registry::AllotmentRow other = runlog::row_of(300);
  other.card[0] = 9;
  two.question.given.push_back({other, std::nullopt});
  const Answer answer = recall::recall(two.question);
  CHECK(answer.units == std::array<std::uint64_t, 3>{2, 300, 3});
  for (std::size_t given = 0; given < 2; ++given) {
    std::uint64_t next = 0;
    for (const Span& span : answer.spans) {
      if (span.given == given) {
        CHECK(span.first == next);
        next = span.first + span.count;
      }
    }
    CHECK(next == two.question.given[given].row.units);
  }
}

TEST_CASE("a condition is read strictly") {
  for (const char* text : {"",
                           "slot",
                           "slot=",
                           "=3",
                           "Slot=3",
                           "slot=0",
                           "slot=33",
                           "slot=x",
                           "session=0",
                           "colour=red",
                           "card=12",
                           "firmware=ABC",
                           "package=12",
                           "date=2026-03-05..2026-03-01",
                           "date=..2026-03-01",
                           "date=2026-13-01..2026-13-02",
                           "date=2026-03-01..",
                           "date=2026-O3-02",
                           "date=02.03.2026",
                           "fixture= F-7",
                           "class=produktion",
                           "signed-by=x"}) {
    INFO(text);
    const Try<Condition> parsed = parse_condition(text);
    REQUIRE_FALSE(parsed.has_value());
    CHECK(parsed.error().code == "recall-form");
    CHECK(parsed.error().kind == ErrorKind::usage);
  }
  CHECK(parse_condition("shift=early")->value == "EARLY");
  CHECK(parse_condition("station=orchard-1")->value == "orchard-1");
  CHECK(spelled(where({"slot=3", "date=2026-03-01..2026-03-05"})) ==
        "slot=3 and date=2026-03-01..2026-03-05");
}
