// Device, board and station profiles: what is read, and what contradicts itself.
#include <string>

#include "profile/board.h"
#include "profile/device.h"
#include "profile/station.h"
#include "support/authored.h"

using namespace cardseal;
using namespace cardseal::profile;
using test::refused;
using test::taken;
using test::taken_file;
using test::with;

namespace {

const std::string device_text = R"(<device id="dev" title="Device">
<regions source="sheet 1">
<region id="flash" kind="code" address="0x100" size="0x8000" word-bits="8" address-unit="1" erased="0xff" write-unit="128"/>
<region id="eeprom" kind="data" address="0x810000" size="1024" word-bits="8" address-unit="1" erased="0x00" write-unit="4"/>
</regions>
<reset-vector address="0x100" length="4" source="sheet 3"/>
<device-id value="1e950f" mask="ffffff" source="sheet 2"/>
<supply operating-min-millivolts="1800" program-min-millivolts="2700" program-max-millivolts="5000"
 erase-min-millivolts="2800" erase-max-millivolts="5100" verify-low-millivolts="1900"
 verify-high-millivolts="5200" operating-max-millivolts="5500" absolute-max-millivolts="6000"
 source="from-memory; look it up"/>
</device>)";

const std::string board_text = R"(<board id="b" revision="3" product="p" device="dev">
<supply entry="before-regulator" min-millivolts="3000" max-millivolts="3600" own="battery"
 dropout-millivolts="300" output-min-millivolts="2900" output-max-millivolts="3100" source="s"/>
<load program-milliamps="18" erase-milliamps="17" verify-milliamps="16" start-milliamps="5"
        capacitance-microfarads="22" bleed-ohms="1000" source="s"/>
  <cable length-millimetres="300" awg="28" hottest-celsius="40" source="s"/>
  <contacts there="2" back="2" new-milliohms="50" worn-milliohms="500" source="s"/>
  <signals high-min-millivolts="2100" max-millivolts="3900" over-device-millivolts="500" source="s"/>
  <panel><place slot="1" position="A1"/><place slot="3" position="B1"/></panel>
</board>)";

const std::string plain_text =
    R"(<station id="s" title="S" slots="2" reads="plain-file" serial="file">
<supply min-millivolts="1800" max-millivolts="5400" step-millivolts="100" tolerance-millivolts="50" tolerance-millionths="0"
 senses-foreign-voltage="yes" source="s"/>
<current slot-milliamps="250" all-milliamps="400" shared-return-milliohms="20" source="s"/>
  <switching settle-microseconds="20000" wait-microseconds="200000" discharges="yes" bleed-ohms="470"
             removal-millivolts="300" source="s"/>
  <signals level="fixed" millivolts="3300" tolerance-millivolts="100" source="s"/>
  <abilities verify-low-high="yes" keep-words-over-erase="no" board-supplies-itself="yes" source="s"/>
  <work slots="together" clears-buffer="yes" text-columns="24" program-bytes-per-second="20000"
        verify-bytes-per-second="40000" overhead-microseconds="500000"
        handling-board-microseconds="4000000" handling-cycle-microseconds="2000000"
        source="s"/>
<plain-file name="F.HEX" folder="JOB" format="intel-hex" record-length="32" line-end="lf" source="s">
<checksum algorithm="CRC-16/MODBUS" over="image-span" fill="0x00" configuration="no" serial="before" digits="3"/>
</plain-file>
<card cluster-sectors="16" mbr="no" max-sectors="3842048" label="CARD_1" source="s"/>
</station>)";

} // namespace

TEST_CASE("a device profile gives its regions, id and limits") {
  const Device device = taken(device_text, read_device);
  CHECK(device.id == "dev");
  REQUIRE(device.regions.size() == 2);
  CHECK(device.regions[0].address == 0x100);
  CHECK(device.regions[0].end() == 0x8100);
  CHECK(device.regions[0].write_unit == 128);
  CHECK(device.regions[1].kind == RegionKind::data);
  CHECK(device.regions[1].size == 1024);
  CHECK(device.regions[1].erased == 0);
  CHECK(device.find_region("eeprom") == &device.regions[1]);
  CHECK(device.find_region("fuses") == nullptr);
  REQUIRE(device.device_id);
  CHECK(device.device_id->value == std::vector<std::uint8_t>{0x1E, 0x95, 0x0F});
  CHECK(device.supply.program_min_mv == 2700);
  CHECK(device.supply.absolute_max_mv == 6000);
  CHECK(device.supply.place.line == 8);
}

TEST_CASE("a value from memory is known as such") {
  const Device device = taken(device_text, read_device);
  CHECK(device.supply.source.from_memory);
  CHECK_FALSE(device.regions_source.from_memory);
  CHECK_THAT(
      refused(with(device_text, "source=\"sheet 1\"", ""), read_device),
      ContainsSubstring("a.xml:2: <regions> lacks an attribute: found none, expected source"));
}

TEST_CASE("regions that contradict each other or themselves are refused") {
  CHECK(
      refused(with(device_text, "0x810000", "0x80fc"), read_device) ==
      "a.xml:4: two regions share addresses: found eeprom, expected addresses outside of flash in "
      "line 3 (correct address or size of one of the two)\n");
  CHECK(refused(with(device_text, "0x810000", "0x8100"), read_device).empty());
  CHECK(
      refused(with(device_text, "id=\"eeprom\"", "id=\"flash\""), read_device) ==
      "a.xml:4: two regions have one id: found flash, expected an id other than in line 3 (rename "
      "one of the two)\n");
  CHECK_THAT(refused(with(device_text, "0x810000", "0xfffffffc"), read_device),
             ContainsSubstring("passes the last address of 32 bits: found 4294968316"));
  CHECK_THAT(refused(with(device_text, "size=\"1024\"", "size=\"1023\""), read_device),
             ContainsSubstring("found 8454144 and 1023 bytes, expected multiples of 4"));
  CHECK_THAT(refused(with(device_text, "kind=\"code\"", "kind=\"data\""), read_device),
             ContainsSubstring("the device has no region of code"));
}

TEST_CASE("a device id and its mask agree") {
  CHECK_THAT(refused(with(device_text, "mask=\"ffffff\"", "mask=\"ffff\""), read_device),
             ContainsSubstring("mask and value differ in length: found 2 bytes, expected 3 bytes"));
  CHECK_THAT(refused(with(device_text, "mask=\"ffffff\"", "mask=\"ff95f0\""), read_device),
             ContainsSubstring("found such bits in byte 3"));
  CHECK_FALSE(taken(with(device_text,
                         "<device-id value=\"1e950f\" mask=\"ffffff\" source=\"sheet 2\"/>", ""),
                    read_device)
                  .device_id);
}

TEST_CASE("supply limits of a device rise") {
  CHECK(
      refused(with(device_text, "\"5000\"", "\"5600\""), read_device) ==
      "a.xml:8: the supply's limits contradict each other: found 1800, 2700, 5600, 5500, 6000 mV, "
      "expected operating-min, program-min, program-max, operating-max, absolute-max in rising "
      "order (look them up again)\n");
  CHECK_THAT(refused(with(device_text, "\"2800\"", "\"1700\""), read_device),
             ContainsSubstring("found 1800, 1700, 5100, 5500, 6000 mV, expected operating-min, "
                               "erase-min"));
  CHECK_THAT(refused(with(device_text, "\"5200\"", "\"1899\""), read_device),
             ContainsSubstring("found 1800, 1900, 1899, 5500, 6000 mV, expected operating-min, "
                               "verify-low"));
}

TEST_CASE("one wrong value gives one error, not a second from its stand-in") {
  const std::string errors = refused(with(device_text, "\"6000\"", "\"six\""), read_device);
  CHECK(errors == "a.xml:10: absolute-max-millivolts of <supply> is not a number: found \"six\", "
                  "expected 0 to 60000 (write digits only: no sign, unit, point or leading 0)\n");
}

TEST_CASE("a board profile gives its supply entry and load") {
  const Board board = taken(board_text, read_board);
  CHECK(board.revision == 3);
  CHECK(board.product == "p");
  CHECK(board.device == "dev");
  CHECK(board.supply.entry == SupplyEntry::before_regulator);
  CHECK(board.supply.own == OwnSupply::battery);
  CHECK(board.supply.max_mv == 3600);
  CHECK(board.supply.drop_most_mv == 300);
  CHECK(board.supply.output_min_mv == 2900);
  CHECK(board.supply.output_max_mv == 3100);
  CHECK(board.load.program_ma == 18);
  CHECK(board.load.erase_ma == 17);
  CHECK(board.load.verify_ma == 16);
  CHECK(board.load.start_ma == 5);
  CHECK(board.load.bleed_ohm.value_or(0) == 1000);
  CHECK(board.signals.high_min_mv == 2100);
  CHECK(board.signals.max_mv == 3900);
  REQUIRE(board.panel.size() == 2);
  CHECK(board.panel[1].slot == 3);
  CHECK(board.panel[1].position == "B1");
  CHECK(board.load.capacitance_uf == 22);
  CHECK(board.cable.length_mm == 300);
  CHECK(board.cable.awg == 28);
  CHECK(board.cable.area_um2 == 0);
  CHECK(board.contacts.back == 2);
  CHECK(board.contacts.worn_mohm == 500);
  CHECK_THAT(refused(with(board_text, "\"3000\"", "\"3601\""), read_board),
             ContainsSubstring("found 3601, expected at most 3600"));
  CHECK_THAT(refused(with(board_text, "revision=\"3\"", "revision=\"C\""), read_board),
             ContainsSubstring("a.xml:1: revision of <board> is not a number: found \"C\""));
}

TEST_CASE("a value of the supply calculation that a board does not state is an error") {
  struct Case {
    const char* from;
    const char* to;
    const char* says;
  };
  const Case cases[] = {
      {" dropout-millivolts=\"300\"", "", "lacks an attribute: found none, expected dropout-"},
      {"before-regulator", "before-diode",
       "lacks an attribute: found none, expected drop-least-millivolts"},
      {"before-regulator", "at-device", "dropout-millivolts"},
      {"\"2900\"", "\"3101\"", "found 3101, expected at most 3100"},
      {" verify-milliamps=\"16\"", "", "expected verify-milliamps"},
      {" awg=\"28\"", "", "expected awg"},
      {"\"2100\"", "\"3901\"", "found 3901, expected at most 3900"},
      {"slot=\"3\"", "slot=\"1\"", "not in rising order: found 1, expected above 1"},
      {"\"B1\"", "\"A1\"", "two slots have one position on the panel: found A1"},
      {" awg=\"28\"", " awg=\"28\" copper-square-micrometres=\"81000\"", "stated twice"},
      {"new-milliohms=\"50\"", "new-milliohms=\"501\"", "found 501, expected at most 500"},
      {"<contacts there=\"2\" back=\"2\" new-milliohms=\"50\" worn-milliohms=\"500\" "
       "source=\"s\"/>",
       "", "expected one <contacts>"},
  };
  for (const Case& one : cases) {
    INFO(one.to);
    CHECK_THAT(refused(with(board_text, one.from, one.to), read_board),
               ContainsSubstring(one.says));
  }
  CHECK(taken(with(board_text, "awg=\"28\"", "copper-square-micrometres=\"81000\""), read_board)
            .cable.area_um2 == 81000);
}

TEST_CASE("a station profile gives its abilities, file and card") {
  const Station station = taken(plain_text, read_station);
  CHECK(station.slots == 2);
  CHECK(station.reads == Reads::plain_file);
  CHECK(station.serial == SerialAbility::file);
  CHECK(station.supply.step_mv == 100);
  CHECK(station.supply.senses_foreign_voltage);
  CHECK(station.supply.tolerance_mv == 50);
  CHECK(station.supply.tolerance_ppm == 0);
  CHECK(station.current.all_ma == 400);
  CHECK(station.current.shared_return_mohm == 20);
  CHECK(station.switching.settle_us == 20000);
  CHECK(station.switching.bleed_ohm.value_or(0) == 470);
  CHECK_FALSE(station.signals.follow_supply);
  CHECK(station.signals.set_mv == 3300);
  CHECK(station.signals.tolerance_mv == 100);
  CHECK(station.abilities.verifies_low_high);
  CHECK_FALSE(station.abilities.keeps_words);
  CHECK(station.abilities.works_own_supply);
  CHECK(station.work.order == SlotOrder::together);
  CHECK(station.work.verify_bytes_per_s == 40000);
  CHECK_FALSE(taken(with(plain_text, "discharges=\"yes\" bleed-ohms=\"470\"", "discharges=\"no\""),
                    read_station)
                  .switching.bleed_ohm.has_value());
  REQUIRE(station.plain_file);
  CHECK(station.plain_file->folder == "JOB");
  CHECK(station.plain_file->record_length == 32);
  CHECK(station.plain_file->line_end == LineEnd::lf);
  REQUIRE(station.plain_file->checksum);
  CHECK(station.plain_file->checksum->algorithm == "CRC-16/MODBUS");
  CHECK(station.plain_file->checksum->over == SumRange::image_span);
  CHECK(station.plain_file->checksum->fill == 0);
  CHECK(station.card.cluster_sectors == 16);
  CHECK_FALSE(station.card.mbr);
  CHECK(station.card.label == "CARD_1");
}

TEST_CASE("a station's values agree with each other") {
  struct Case {
    const char* from;
    const char* to;
    const char* says;
  };
  const Case cases[] = {
      {"step-millivolts=\"100\"", "step-millivolts=\"700\"",
       "a.xml:2: the steps don't lead from the lowest to the highest supply: found 700, expected a "
       "divisor of 3600"},
      {"discharges=\"yes\"", "discharges=\"no\"", "found bleed-ohms, expected no bleed-ohms"},
      {" bleed-ohms=\"470\"", "", "expected bleed-ohms"},
      {"level=\"fixed\"", "level=\"follow-supply\"", "found millivolts, expected neither"},
      {" millivolts=\"3300\"", "", "expected millivolts"},
      {"\"1800\"", "\"5500\"", "found 5500, expected at most 5400"},
      {"\"400\"", "\"249\"", "found 249, expected at least 250"},
      {"serial=\"file\"", "serial=\"loader\"", "a.xml:1: a station that reads plain files gets no"},
      {"serial=\"file\"", "serial=\"unit-file\"", "found F.HEX, expected 1 to 8 '#' in the name"},
      {"\"F.HEX\"", "\"F##.HEX\"", "found F##.HEX, expected a name without '#'"},
      {"\"F.HEX\"", "\"#F##.HEX\"", "not a short file name"},
      {"\"F.HEX\"", "\"F.H##\"", "not a short file name"},
      {"folder=\"JOB\"", "folder=\"CARDSEAL\"", "the card's own files stand there"},
      {"reads=\"plain-file\"", "reads=\"signed-no-log\"",
       "found a <plain-file>, expected <plain-file> exactly when reads=\"plain-file\""},
      {"reads=\"plain-file\"", "reads=\"signed-package\"",
       "found a <plain-file>, expected <plain-file> exactly when reads=\"plain-file\""},
      {"\"F.HEX\"", "\"f.hex\"", "a.xml:13: not a short file name in upper case: found f.hex"},
      {"\"F.HEX\"", "\"FIRMWARE1.HEX\"", "not a short file name"},
      {"\"F.HEX\"", "\"F.HEXX\"", "not a short file name"},
      {"\"F.HEX\"", "\".HEX\"", "not a short file name"},
      {"\"JOB\"", "\"JOB.X\"", "not a short file name"},
      {"\"intel-hex\"", "\"raw\"", "a.xml:13: a raw file has no records: found record-length"},
      {"CRC-16/MODBUS", "CCITT", "'CCITT' alone names several"},
      {"digits=\"3\"", "digits=\"5\"", "found 5, expected at most 4"},
      {"cluster-sectors=\"16\"", "cluster-sectors=\"24\"", "no power of two: found 24"},
      {"\"3842048\"", "\"1048655\"", "found 1048655, expected more than 1048656"},
      {"\"CARD_1\"", "\"card 1\"", "holds a character that is not allowed there"},
      {"slots=\"2\"", "slots=\"33\"",
       "slots of <station> is out of range: found \"33\", expected 1"},
  };
  for (const Case& one : cases) {
    INFO(one.to);
    CHECK_THAT(refused(with(plain_text, one.from, one.to), read_station),
               ContainsSubstring(one.says));
  }
}

TEST_CASE("a station may take a file for each board, whose name has room for the ordinal") {
  const std::string each =
      with(with(plain_text, "serial=\"file\"", "serial=\"unit-file\""), "\"F.HEX\"", "\"F##.HEX\"");
  CHECK_THAT(refused(each, read_station),
             ContainsSubstring("a file for each board has a checksum for each board"));
  const Station station = taken(with(each, "serial=\"before\"", "serial=\"after\""), read_station);
  CHECK(station.serial == SerialAbility::unit_file);
  CHECK(station.plain_file->name == "F##.HEX");
}

TEST_CASE("a station's entries are named once each, with a source") {
  const auto entries = [](const char* inside) {
    return with(plain_text, "<plain-file",
                std::string("<entries source=\"invented\">") + inside + "</entries>\n<plain-file");
  };
  const Station station = taken(entries("<entry id=\"serial\"/><entry id=\"b\"/>"), read_station);
  CHECK(station.entries == std::vector<std::string>{"serial", "b"});
  CHECK(station.entries_source->text == "invented");
  CHECK(taken(plain_text, read_station).entries.empty());
  CHECK_THAT(refused(entries("<entry id=\"b\"/><entry id=\"b\"/>"), read_station),
             ContainsSubstring("an entry is named twice: found b"));
  CHECK_THAT(refused(entries(""), read_station), ContainsSubstring("expected 1 to 8"));
}

TEST_CASE("the frost node's profiles and the templates are read") {
  for (const char* path :
       {"templates/author/device.xml", "packages/01-frost-node/profiles/atmega328p.xml"}) {
    taken_file(path, read_device);
  }
  for (const char* path :
       {"templates/author/board.xml", "packages/01-frost-node/profiles/frost-node-board.xml"}) {
    taken_file(path, read_board);
  }
  for (const char* path :
       {"templates/author/station.xml", "packages/01-frost-node/profiles/row-six.xml",
        "packages/01-frost-node/profiles/bench-one.xml"}) {
    taken_file(path, read_station);
  }
}
