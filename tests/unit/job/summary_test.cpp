// What `check` prints.
#include "job/put.h"
#include "job/rules.h"
#include "job/summary.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::job;

TEST_CASE("the closing sentence counts, and says whether the release can be packed") {
  Findings findings;
  CHECK(closing_sentence(findings) ==
        "this release can be packed: 0 refusals, 0 warnings, 0 notes");
  findings.add(rules::verify_none, "a");
  findings.add(rules::verify_none, "b");
  findings.add(rules::firmware_note, "c");
  CHECK(closing_sentence(findings) == "this release can be packed: 0 refusals, 2 warnings, 1 note");
  findings.add(rules::off_step, "d");
  CHECK(closing_sentence(findings) ==
        "this release can't be packed: 1 refusal, 2 warnings, 1 note");
}

TEST_CASE("findings are listed by weight and rule, and outside text can't steer a terminal") {
  Findings findings;
  CHECK(list_findings(findings) == "");
  findings.add(rules::firmware_note, "no\x1b[2Jte", {"f.hex", 9, 0, {}}, "look");
  findings.add(rules::slot_missing, "first", {"r.xml", 3, 0, {}}, "do");
  findings.add(rules::verify_none, "none", {"r.xml", 4, 0, {}});
  findings.add(rules::slot_missing, "second");
  CHECK(list_findings(findings) ==
        "refuse slot-missing: a permitted slot is not there\n"
        "  r.xml:3: first (do)\n"
        "  second\n"
        "warn verify-none: units are not verified\n"
        "  r.xml:4: none\n"
        "note firmware-note: reader of the firmware file noted something\n"
        "  f.hex:9: no\\u{1b}[2Jte (look)\n");
}

TEST_CASE("what a deviation sets aside refuses no more, and stays in sight") {
  Findings findings;
  findings.add(rules::discharge, "slow", {"r.xml", 5, 0, {}}, "wait");
  findings.add(rules::verify_none, "none");
  findings.waive(rules::discharge);
  CHECK_FALSE(findings.refused());
  CHECK(findings.severity_of(rules::discharge) == Severity::waived);
  CHECK(list_findings(findings) ==
        "waived supply-discharge: boards are taken off while they hold a voltage\n"
        "  r.xml:5: slow (wait)\n"
        "warn verify-none: units are not verified\n"
        "  none\n");
  CHECK(closing_sentence(findings) == "this release can be packed: 0 refusals, 1 set aside by a "
                                      "deviation, 1 warning, 0 notes");
  findings.add(rules::absolute_max, "too much");
  findings.waive(rules::absolute_max); // nobody may
  CHECK(findings.refused());
}

TEST_CASE("findings of a rule that are not kept are counted in its list") {
  Findings findings;
  for (std::size_t i = 0; i < Findings::kept_a_rule + 7; ++i) {
    findings.add(rules::firmware_outside, "x");
  }
  const std::string list = list_findings(findings);
  CHECK(list.ends_with("  x\n  and 7 more\n"));
}

TEST_CASE("what a sealed text can't hold is replaced, and no character is cut in half") {
  CHECK(sealable("a \"b\" \\ c", 99) == "a ?b? ? c");
  CHECK(sealable("20 \xC2\xB0\x43", 99) == "20 \xC2\xB0\x43");
  CHECK(sealable("20 \xC2\xB0\x43", 4) == "20 ");
  CHECK(sealable("\xFFx\n\xE2\x80\x8E", 99) == "?x??"); // U+200E: left-to-right mark
  CHECK(sealable("abc", 2) == "ab");
}
