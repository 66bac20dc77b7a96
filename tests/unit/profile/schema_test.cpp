// The schemas beside the templates, judged by xmllint (libxml2), and held against our reader: what
// the one refuses for its form, the other refuses too.
#include <fstream>
#include <string>

#include "profile/board.h"
#include "profile/device.h"
#include "profile/station.h"
#include "support/authored.h"
#include "support/outside.h"
#include "support/temp_folder.h"
#include "support/text_file.h"

using namespace cardseal;
using test::have;
using test::refused;
using test::run;
using test::shell;
using test::with;

namespace {

int judge(const std::string& kind, const std::string& file) {
  const std::string schema = test::source_path("templates/author/" + kind + ".xsd").string();
  const auto ran = run("xmllint --noout --schema " + shell(schema) + " " + shell(file));
  INFO(ran.output);
  CHECK(
      (ran.exit_code == 0 || ran.exit_code == 3)); // 3: validation error; else our schema is wrong
  return ran.exit_code;
}

struct Change {
  const char* from;
  const char* to;
};

template <class T, std::size_t N>
void both_refuse(const std::string& kind, xml::All<T> (*read)(const xml::Document&),
                 const Change (&changes)[N]) {
  const std::string good =
      test::text_of_file(test::source_path("templates/author/" + kind + ".xml"));
  for (const Change& change : changes) {
    INFO(change.to);
    const std::string text = with(good, change.from, change.to);
    CHECK_FALSE(refused(text, read).empty());
    const test::TempFolder folder;
    const std::string changed = (folder / "changed.xml").string();
    std::ofstream(changed, std::ios::binary) << text;
    CHECK(judge(kind, changed) == 3);
  }
}

} // namespace

TEST_CASE("templates and the worked releases' files fit their schemas, as xmllint judges") {
  if (!have("xmllint")) {
    return;
  }
  struct Case {
    const char* kind;
    const char* file;
  };
  const Case cases[] = {
      {"release", "templates/author/release.xml"},
      {"device", "templates/author/device.xml"},
      {"board", "templates/author/board.xml"},
      {"station", "templates/author/station.xml"},
      {"release", "packages/01-frost-node/release.xml"},
      {"device", "packages/01-frost-node/profiles/atmega328p.xml"},
      {"device", "templates/author/devices/atmega328p.xml"},
      {"device", "templates/author/devices/pic16f1459.xml"},
      {"device", "templates/author/devices/tx14.xml"},
      {"device", "templates/author/devices/tx24.xml"},
      {"device", "templates/author/devices/tx32.xml"},
      {"board", "packages/01-frost-node/profiles/frost-node-board.xml"},
      {"station", "packages/01-frost-node/profiles/row-six.xml"},
      {"station", "packages/01-frost-node/profiles/bench-one.xml"},
      {"release", "packages/02-tank-gauge/release.xml"},
      {"device", "packages/02-tank-gauge/profiles/tx32.xml"},
      {"board", "packages/02-tank-gauge/profiles/tank-gauge-board.xml"},
      {"station", "packages/02-tank-gauge/profiles/quay-four.xml"},
      {"release", "packages/03-gate-remote/release.xml"},
      {"device", "packages/03-gate-remote/profiles/tx14.xml"},
      {"board", "packages/03-gate-remote/profiles/gate-remote-board.xml"},
      {"station", "packages/03-gate-remote/profiles/jig-eight.xml"},
  };
  for (const Case& one : cases) {
    INFO(one.file);
    CHECK(judge(one.kind, test::source_path(one.file).string()) == 0);
  }
}

TEST_CASE("what a schema refuses in a profile, the reader refuses") {
  if (!have("xmllint")) {
    return;
  }
  constexpr Change device[] = {
      {"id=\"my-device\"", "id=\"My-device\""},
      {"title=\"My device\"", "title=\"\""},
      {"address=\"0x0\" size", "address=\"0\" size"},
      {"size=\"0x8000\"", "size=\"-1\""},
      {"write-unit=\"128\"", "write-unit=\"12abc\""},
      {"value=\"010200\"", "value=\"01020\""},
      {"size=\"0x400\" word-bits=\"8\"", "size=\"0x400\" word-bits=\"10\""},
      {"address=\"0x0\" length", "address=\"0x0\" lenght"},
      {"save-and-restore\"", "saved\""},
      {"title=\"B\" allowed=\"yes\"", "title=\"B\""},
      {"role=\"debug\"", "role=\"debugger\""},
      {"delivered=\"0xff\">\n      <field id=\"clock\"",
       "delivered=\"255\">\n      <field id=\"clock\""},
      {"by=\"byte\"", "by=\"bytes\""},
      {"kind=\"reversible\"", "kind=\"maybe\""},
      {"chip-erase-microseconds=\"9000\"", "chip-erase-microseconds=\"9 ms\""},
      {"absolute-max-millivolts=\"4000\"", "absolute-max-millivolts=\"4294967296\""},
      {"absolute-max-millivolts=\"4000\"", "absolute-max-millivolts=\"60001\""},
      {"kind=\"data\"", "kind=\"Data\""},
      {"mask=\"ffff00\"", "maske=\"ffff00\""},
      {"</device>", "<more/></device>"},
  };
  both_refuse("device", profile::read_device, device);
  constexpr Change board[] = {
      {"revision=\"1\"", "revision=\"01\""},
      {"own=\"none\"", ""},
      {"at-device\" min", "device\" min"},
      {"program-milliamps=\"15\"", "program-milliamps=\"\""},
      {"awg=\"28\"", "awg=\"35\""},
      {"<contacts there", "<contact there"},
      {"characters=\"12\"", "characters=\"65\""},
  };
  both_refuse("board", profile::read_board, board);
  constexpr Change station[] = {
      {"slots=\"6\"", "slots=\"0\""},
      {"\"FIRMWARE.HEX\"", "\"firmware.hex\""},
      {"algorithm=\"byte-sum-16\"", "algorithm=\"CCITT\""},
      {"digits=\"4\"", "digits=\"9\""},
      {"removal-millivolts=\"300\"", "removal-millivolts=\"0\""},
      {"slots=\"together\"", "slots=\"both\""},
      {"mbr=\"yes\"", "mbr=\"true\""},
      {"<current slot", "<supply slot"},
      {"label=\"CARDSEAL\"", "label=\"MY CARDSEALED\""},
  };
  both_refuse("station", profile::read_station, station);
}
