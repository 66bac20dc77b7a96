// release.xml: what is read, and what is refused with its line.
#include <fstream>
#include <string>

#include "job/release_xml.h"
#include "support/authored.h"
#include "support/outside.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::job;
using test::refused;
using test::taken;
using test::with;

namespace {

const std::string digits(64, 'a');

const std::string release_text =
    R"(<release product="lamp" version="1.2" epoch="2" sequence="9" title="LAMP 1.2" previous="-">
<firmware file="f/lamp.hex" sha256=")" +
    digits + R"(" format="intel-hex"/>
<device profile="d.xml" configuration="as-delivered"/>
<board profile="b.xml"/>
<stations><station profile="s1.xml"/><station profile="s2.xml"/></stations>
<slots permitted="1-3,5"/>
<supply source="station" millivolts="3300"/>
<job erase="chip" blank-check="yes" verify="nominal" lock="none" stop-after="3" plain-file="no"/>
<lot-estimate good-boards="500" yield-millionths="970000" slowest-board-millionths="50000" set-up-seconds="600"/>
<no-serial/>
<deviations><deviation number="DEV-1" rule="supply-discharge" boards="200" expires="2027-03-31" reason="shown"/>
<deviation number="DEV-2" rule="supply-current" boards="20" expires="2028-02-29" reason="shown too"/></deviations>
<documents><document file="n.txt" name="n.txt"/><document file="m.txt" name="m.txt"/></documents>
</release>)";

std::string change(std::string_view from, std::string_view to) {
  return refused(with(release_text, from, to), read_release);
}

} // namespace

TEST_CASE("a release gives everything its author wrote") {
  const ReleaseFile release = taken(release_text, read_release);
  CHECK(release.product == "lamp");
  CHECK(release.version == "1.2");
  CHECK(release.epoch == 2);
  CHECK(release.sequence == 9);
  CHECK(release.title == "LAMP 1.2");
  CHECK_FALSE(release.previous);
  CHECK(release.firmware.file == "f/lamp.hex");
  CHECK(release.firmware.sha256[31] == 0xAA);
  CHECK(release.firmware.place.line == 2);
  CHECK(release.device.file == "d.xml");
  CHECK(release.board.file == "b.xml");
  REQUIRE(release.stations.size() == 2);
  CHECK(release.stations[1].file == "s2.xml");
  CHECK(release.slots.mask == 0b10111);
  CHECK(release.supply.source == format::SupplySource::station);
  CHECK(release.supply.supply_mv == 3300);
  CHECK(release.settings.erase == format::Erase::chip);
  CHECK(release.settings.blank_check);
  CHECK(release.settings.verify == format::Verify::nominal);
  CHECK(release.settings.stop_after == 3);
  CHECK_FALSE(release.settings.plain_file);
  CHECK_FALSE(release.serial);
  REQUIRE(release.documents.size() == 2);
  CHECK(release.documents[1].name == "m.txt");
}

TEST_CASE("a release says for what lot times are reckoned, and what is set aside") {
  const ReleaseFile release = taken(release_text, read_release);
  CHECK(release.lot.good_boards == 500);
  CHECK(release.lot.yield_ppm == 970'000);
  CHECK(release.lot.slowest_ppm == 50'000);
  CHECK(release.lot.set_up_s == 600);
  REQUIRE(release.deviations.size() == 2);
  CHECK(release.deviations[0].rule == "supply-discharge");
  CHECK(release.deviations[0].boards == 200);
  CHECK(release.deviations[0].expires == Utc{2027, 3, 31, 23, 59, 59});
  CHECK(release.deviations[1].number == "DEV-2");
  CHECK(release.deviations[1].reason == "shown too");
  CHECK_THAT(change("2028-02-29", "2027-02-29"),
             ContainsSubstring("not a date: found \"2027-02-29\""));
  CHECK_THAT(change("DEV-2", "DEV-1"), ContainsSubstring("found DEV-1, expected behind DEV-1"));
  CHECK_THAT(change("supply-current", "supply-discharge"),
             ContainsSubstring("two deviations set one rule aside: found supply-discharge"));
}

TEST_CASE("slots have one spelling and bit 0 is slot 1") {
  std::uint32_t mask = 0;
  CHECK(parse_slots("1", mask));
  CHECK(mask == 1);
  CHECK(parse_slots("1-32", mask));
  CHECK(mask == 0xFFFFFFFF);
  CHECK(parse_slots("2,4-6,32", mask));
  CHECK(mask == 0x8000003A);
  for (const char* bad : {"", "0", "33", "1-33", "2-1", "1-1", "1,1", "1-3,3", "3,1", "1,", ",1",
                          "-", "1-", "-1", "1 -3", "01", "1-3-5", "1;2", "12abc"}) {
    INFO(bad);
    CHECK_FALSE(parse_slots(bad, mask));
  }
}

TEST_CASE("an empty slot mask is refused") {
  CHECK(
      change("1-3,5", "") ==
      "a.xml:6: no slot is permitted: found \"\", expected slots 1 to 32 in rising order, such as "
      "1-6 or 1-3,5 (name each slot once; leave out those that must stay empty)\n");
}

TEST_CASE("a supply has no default") {
  CHECK(change("<supply source=\"station\" millivolts=\"3300\"/>\n", "") ==
        "a.xml:1: <release> lacks an element: found none, expected one <supply> (add it; "
        "templates/author shows where it stands)\n");
  CHECK_THAT(
      change("millivolts=\"3300\"", ""),
      ContainsSubstring("a.xml:7: <supply> lacks an attribute: found none, expected millivolts"));
  CHECK_THAT(change("\"3300\"", "\"3.3\""),
             ContainsSubstring("millivolts of <supply> is not a number"));
}

TEST_CASE("the supplies to verify at stand exactly with a verify at two supplies") {
  const std::string two = with(release_text, "verify=\"nominal\"", "verify=\"low-high\"");
  const std::string stated =
      "3300\" verify-low-millivolts=\"3000\" verify-high-millivolts=\"3600\"";
  const ReleaseFile release = taken(with(two, "3300\"", stated), read_release);
  CHECK(release.settings.verify == format::Verify::low_high);
  REQUIRE(release.supply.verify);
  CHECK(release.supply.verify->low_mv == 3000);
  CHECK(release.supply.verify->high_mv == 3600);
  CHECK_FALSE(taken(release_text, read_release).supply.verify);
  const std::string missing = refused(two, read_release);
  CHECK_THAT(missing, ContainsSubstring("verify-low-millivolts"));
  CHECK_THAT(missing, ContainsSubstring("verify-high-millivolts"));
  const std::string needless = change("3300\"", stated);
  CHECK_THAT(needless,
             ContainsSubstring(":7: a supply to verify at is stated, but the job does not "
                               "verify at two: found 3000"));
  CHECK_THAT(needless, ContainsSubstring("found 3600"));
  for (const char* bad : {"0", "60001", "3.0", ""}) {
    INFO(bad);
    CHECK_FALSE(
        refused(with(with(two, "3300\"", stated), "=\"3000\"", "=\"" + std::string(bad) + "\""),
                read_release)
            .empty());
  }
}

TEST_CASE("a previous package is named by its identity") {
  const ReleaseFile release = taken(
      with(release_text, "previous=\"-\"", "previous=\"sha256:" + digits + "\""), read_release);
  REQUIRE(release.previous);
  CHECK((*release.previous)[0] == 0xAA);
  CHECK_THAT(change("previous=\"-\"", "previous=\"" + digits + "\""),
             ContainsSubstring("a.xml:1: previous is not the identity of a package"));
}

TEST_CASE("raw firmware has an address, and HEX has none") {
  const ReleaseFile release =
      taken(with(release_text, "format=\"intel-hex\"", "format=\"raw\" address=\"0x1000\""),
            read_release);
  CHECK(release.firmware.format == FirmwareFormat::raw);
  CHECK(release.firmware.address == 0x1000);
  CHECK_THAT(change("format=\"intel-hex\"", "format=\"raw\""),
             ContainsSubstring("expected address"));
  CHECK_THAT(change("format=\"intel-hex\"", "format=\"intel-hex\" address=\"0x0\""),
             ContainsSubstring("only a raw file has no addresses of its own"));
}

TEST_CASE("a release says itself what its firmware's reader may take") {
  ReleaseFile release = taken(release_text, read_release);
  CHECK_FALSE(release.firmware.missing_end_allowed);
  CHECK_FALSE(release.firmware.comments_allowed);
  CHECK_FALSE(release.firmware.elf_by);
  const std::string hex = "format=\"intel-hex\"";
  release = taken(with(release_text, hex, hex + " missing-end=\"allowed\" comments=\"allowed\""),
                  read_release);
  CHECK(release.firmware.missing_end_allowed);
  CHECK(release.firmware.comments_allowed);
  release = taken(with(release_text, hex, "format=\"elf\" elf-by=\"segments\""), read_release);
  CHECK(release.firmware.elf_by == ElfBy::segments);
  CHECK_THAT(change(hex, "format=\"elf\" comments=\"allowed\""),
             ContainsSubstring("only a file of records can lack an end or have comments"));
  CHECK_THAT(change(hex, hex + " elf-by=\"segments\""),
             ContainsSubstring("only ELF has sections and segments"));
  CHECK_THAT(change(hex, hex + " missing-end=\"yes\""), ContainsSubstring("one of its words"));
}

TEST_CASE("image digest, version text, lock and changes are read where they are stated") {
  std::string text = with(release_text, "format=", "image-sha256=\"" + digits + "\" format=");
  text = with(text, "<device", "<version-text address=\"0x7F0\" text=\"V 1.2\"/>\n<device");
  text = with(text, "<device", "<own-sum address=\"0x100\" length=\"64\"/>\n<device");
  text = with(text, "previous=\"-\"", "previous=\"sha256:" + digits + "\"");
  text = with(text, "lock=\"none\"", "lock=\"permanent\"");
  text = with(text, "<no-serial/>",
              "<no-serial/>\n<changes since=\"old/p.crp\" order=\"CO-7\"><range region=\"flash\" "
              "address=\"0x10\" length=\"32\"/></changes>");
  const ReleaseFile release = taken(text, read_release);
  REQUIRE(release.firmware.image_sha256);
  CHECK((*release.firmware.image_sha256)[5] == 0xAA);
  REQUIRE(release.version_text);
  CHECK(release.version_text->address == 0x7F0);
  REQUIRE(release.own_sums.size() == 1);
  CHECK(release.own_sums[0].address == 0x100);
  CHECK(release.own_sums[0].length == 64);
  CHECK(release.version_text->text == "V 1.2");
  CHECK(release.device.configuration == format::Configuration::as_delivered);
  CHECK(release.settings.lock == format::Lock::permanent);
  REQUIRE(release.changes);
  CHECK(release.changes->package == "old/p.crp");
  CHECK(release.changes->order == "CO-7");
  REQUIRE(release.changes->ranges.size() == 1);
  CHECK(release.changes->ranges[0].length == 32);
}

TEST_CASE("what a release may not hold is refused with its line") {
  struct Case {
    const char* from;
    const char* to;
    const char* says;
  };
  const Case cases[] = {
      {"<no-serial/>", "<no-serial/><no-serial/>", "a.xml:10: an element stands once too often"},
      {"<no-serial/>", "", "expected one <serial> or <no-serial>"},
      {"s2.xml", "s1.xml", "a.xml:5: a station is named twice: found s1.xml"},
      {"<station profile=\"s1.xml\"/><station profile=\"s2.xml\"/>", "",
       "found 0, expected 1 to 8"},
      {"name=\"m.txt\"", "name=\"n.txt\"", "a.xml:13: two documents have one name: found n.txt"},
      {"name=\"m.txt\"", "name=\"../m\"", "holds a character that is not allowed there"},
      {"name=\"m.txt\"", "name=\".m\"", "starts with a dot"},
      {"sequence=\"9\"", "sequence=\"0\"", "expected 1 to 999999999"},
      {"sequence=\"9\"", "sequence=\"-1\"", "sequence of <release> is not a number: found \"-1\""},
      {"lock=\"none\"", "lock=\"forever\"", "a.xml:8: lock of <job> is not one of its words"},
      {"configuration=\"as-delivered\"", "", "a.xml:3: <device> lacks an attribute"},
      {"<no-serial/>", "<no-serial/><changes since=\"p.crp\" order=\"1\"/>",
       "a.xml:1: changes are stated against no package: found -"},
      {"stop-after=\"3\"", "stop-after=\"100\"", "found \"100\", expected 0 to 99"},
      {"<slots", "<slot", "a.xml:6: <release> holds no such element: found <slot>"},
      {"title=\"LAMP 1.2\"", "title=\"LAMP \xC3\x85\"", "a character that a station can't show"},
      {"<device profile=\"d.xml\" configuration=\"as-delivered\"/>\n<board profile=\"b.xml\"/>",
       "<board profile=\"b.xml\"/>\n<device profile=\"d.xml\" configuration=\"as-delivered\"/>",
       "a.xml:4: an element of <release> stands too late: found <device>"},
      {"\"f/lamp.hex\"", "\"/f/lamp.hex\"", "a.xml:2: file of <firmware> is not a relative path"},
  };
  for (const Case& one : cases) {
    INFO(one.to);
    CHECK_THAT(change(one.from, one.to), ContainsSubstring(one.says));
  }
}

TEST_CASE("everything wrong with a release comes at once") {
  const std::string text = with(with(with(release_text, "\"3300\"", "\"12abc\""), "1-3,5", "0"),
                                "stop-after=\"3\"", "stop-after=\"3\" speed=\"9\"");
  const std::string errors = refused(text, read_release);
  CHECK_THAT(errors, ContainsSubstring("a.xml:6: permitted slots are not spelled as read"));
  CHECK_THAT(errors, ContainsSubstring("a.xml:7: millivolts of <supply> is not a number"));
  CHECK_THAT(errors, ContainsSubstring("a.xml:8: <job> has no such attribute: found speed"));
}

TEST_CASE("the frost node's release and the template are read") {
  const ReleaseFile node = test::taken_file("packages/01-frost-node/release.xml", read_release);
  CHECK(node.slots.mask == 0x3F);
  CHECK(node.supply.supply_mv == 3300);
  REQUIRE(node.serial);
  CHECK(node.serial->text_length() == 8);
  CHECK(node.stations.size() == 2);
  test::taken_file("templates/author/release.xml", read_release);
}

// xmllint of libxml2.
TEST_CASE("what the schema refuses in a release, the reader refuses") {
  if (!test::have("xmllint")) {
    return;
  }
  const std::string schema = test::source_path("templates/author/release.xsd").string();
  const auto judge = [&](const std::string& text) {
    const test::TempFolder folder;
    const std::string path = (folder / "release.xml").string();
    std::ofstream(path, std::ios::binary) << text;
    const auto ran =
        test::run("xmllint --noout --schema " + test::shell(schema) + " " + test::shell(path));
    INFO(ran.output);
    CHECK((ran.exit_code == 0 || ran.exit_code == 3)); // 3: validation error
    return ran.exit_code;
  };
  CHECK(judge(release_text) == 0);
  const char* changes[][2] = {
      {"product=\"lamp\"", "product=\"Lamp\""},
      {"sequence=\"9\"", "sequence=\"4294967296\""},
      {"epoch=\"2\"", "epoch=\"12abc\""},
      {"previous=\"-\"", "previous=\"none\""},
      {"format=\"intel-hex\"", "format=\"hex\""},
      {"1-3,5", "0-3"},
      {"source=\"station\"", "source=\"both\""},
      {"<no-serial/>", "<no-serial/><no-serial/>"},
      {"erase=\"chip\"", "erase=\"Chip\""},
      {"<board profile=\"b.xml\"/>", "<board profile=\"b.xml\"/><board profile=\"b.xml\"/>"},
      {"<board profile=\"b.xml\"/>", "<board profile=\"/b.xml\"/>"},
      {"</release>", "<extra/></release>"},
  };
  for (const auto& one : changes) {
    INFO(one[1]);
    const std::string text = with(release_text, one[0], one[1]);
    CHECK_FALSE(refused(text, read_release).empty());
    CHECK(judge(text) == 3);
  }
}

TEST_CASE("any one byte changed or left out is read or refused with a line and advice") {
  const auto judge = [](const std::string& text) {
    const Try<xml::Document> document = xml::Document::parse(text, "a.xml");
    xml::Errors errors;
    if (!document) {
      errors.push_back(document.error());
    } else if (const auto release = read_release(*document); !release) {
      errors = release.error();
      CHECK_FALSE(errors.empty());
    }
    for (const Error& error : errors) {
      if (error.place.line == 0 || error.hint.empty() || error.kind != ErrorKind::bad_data) {
        FAIL(describe(error));
      }
    }
    return errors.empty();
  };
  std::size_t read = 0;
  for (std::size_t at = 0; at < release_text.size(); ++at) {
    for (const char c : {'\0', '\n', ' ', '"', '&', '<', '>', '/', '-', '0', 'A', '\x80'}) {
      std::string text = release_text;
      text[at] = c;
      read += judge(text) ? 1 : 0;
    }
    std::string shorter = release_text;
    read += judge(shorter.erase(at, 1)) ? 1 : 0;
  }
  CHECK(read < release_text.size() * 13 / 2); // most changes matter
}
