// Device profiles beyond regions and supply: words, kept locations, configuration, locks; and the
// ready profiles against what others say of the same parts.
#include <fstream>
#include <map>
#include <regex>
#include <string>

#include "profile/device.h"
#include "support/authored.h"
#include "support/outside.h"
#include "support/temp_folder.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::profile;
using test::have;
using test::refused;
using test::run;
using test::taken;
using test::taken_file;
using test::with;

namespace {

const std::string devices = "templates/author/devices/";

std::string tx24() {
  return test::text_of_file(test::source_path(devices + "tx24.xml").string());
}

struct Refusal {
  const char* from;
  const char* to;
  const char* says;
};

template <std::size_t N>
void all_refused(const std::string& good, const Refusal (&cases)[N]) {
  for (const Refusal& one : cases) {
    INFO(one.to);
    CHECK_THAT(refused(with(good, one.from, one.to), read_device), ContainsSubstring(one.says));
  }
}

std::uint32_t hex_of(const std::string& digits) {
  return static_cast<std::uint32_t>(std::stoul(digits, nullptr, 16));
}

// Values of avr-libc, by the compiler's own preprocessor and arithmetic.
std::map<std::string, std::uint32_t> avr_values(const std::vector<std::string>& expressions) {
  std::string source = "#include <avr/io.h>\n#include <avr/fuse.h>\n#include <avr/lock.h>\n"
                       "const __flash unsigned long cardseal[] = {";
  for (const std::string& expression : expressions) {
    source += "(unsigned char)(" + expression + "),\n";
  }
  const test::TempFolder folder;
  std::ofstream(folder / "v.c", std::ios::binary) << source << "};\n";
  const std::string stem = (folder / "v").string();
  const auto ran = run("avr-gcc -mmcu=atmega328p -c -o " + test::shell(stem + ".o") + " " +
                       test::shell(stem + ".c") + " && avr-objcopy -O binary -j .progmem.data " +
                       test::shell(stem + ".o") + " " + test::shell(stem + ".bin"));
  INFO(ran.output);
  REQUIRE(ran.exit_code == 0);
  const std::string bytes = test::text_of_file(stem + ".bin");
  REQUIRE(bytes.size() == 4 * expressions.size());
  std::map<std::string, std::uint32_t> values;
  for (std::size_t i = 0; i < expressions.size(); ++i) {
    values[expressions[i]] = static_cast<std::uint8_t>(bytes[4 * i]);
  }
  return values;
}

// CODEPAGE NAME=x START=0x.. END=0x..; pages that follow each other are one.
std::map<std::string, std::pair<std::uint32_t, std::uint32_t>> code_pages(const std::string& part) {
  std::map<std::string, std::pair<std::uint32_t, std::uint32_t>> pages;
  const std::string text = test::text_of_file("/usr/share/gputils/lkr/" + part + "_g.lkr");
  const std::regex line("CODEPAGE +NAME=(\\S+) +START=0x(\\S+) +END=0x(\\S+)");
  for (std::sregex_iterator at(text.begin(), text.end(), line), end; at != end; ++at) {
    std::string name = (*at)[1];
    if (name.starts_with("page")) {
      name = "page";
    }
    const auto [found, is_new] = pages.emplace(name, std::pair(hex_of((*at)[2]), hex_of((*at)[3])));
    if (!is_new && found->second.second + 1 == hex_of((*at)[2])) {
      found->second.second = hex_of((*at)[3]);
    }
  }
  return pages;
}

} // namespace

TEST_CASE("a word's phantom bytes, blank value and own addresses follow its width") {
  const Device wide = taken(tx24(), read_device);
  const Region& flash = wide.regions[0];
  CHECK(flash.word_bytes() == 4);
  CHECK(flash.word_mask() == 0xFFFFFF);
  CHECK(flash.erased_byte(0x102) == 0xFF);
  CHECK(flash.erased_byte(0x103) == 0x00); // phantom
  CHECK(flash.device_address(0x104) == 0x82);
  const Device narrow = taken_file(devices + "pic16f1459.xml", read_device);
  CHECK(narrow.regions[0].erased_byte(0x10) == 0xFF);
  CHECK(narrow.regions[0].erased_byte(0x11) == 0x3F);
  CHECK(narrow.find_region("config")->device_address(0x1000E) == 0x8007);
  CHECK(narrow.region_at(0x10010)->id == "config");
  CHECK(narrow.region_at(0x10012) == nullptr);
}

TEST_CASE("a device profile gives kept locations, revisions, configuration, locks and times") {
  const Device device = taken(tx24(), read_device);
  REQUIRE(device.kept.size() == 1);
  CHECK(device.kept[0].over_erase == OverErase::survives);
  CHECK(device.kept[0].end() == 0x1100008);
  REQUIRE(device.device_id);
  CHECK(device.device_id->revision_mask == std::vector<std::uint8_t>{0, 0, 0xFF, 0xFF});
  REQUIRE(device.device_id->revisions.size() == 2);
  CHECK_FALSE(device.device_id->revisions[0].allowed);
  CHECK(device.device_id->revisions[1].title == "B0");
  REQUIRE(device.configuration);
  const ConfigField* debug = device.configuration->find_field("debug");
  REQUIRE(debug != nullptr);
  CHECK(debug->role == FieldRole::debug);
  CHECK(debug->required == "off");
  CHECK(debug->value_of(0xFFFFFF)->id == "off");
  CHECK(debug->value_of(0xFFFFFE)->id == "on");
  CHECK(device.configuration->find_field("source")->find_value("crystal")->needs == "crystal");
  CHECK(device.configuration->find_field("source")->value_of(0) == nullptr);
  CHECK(device.configuration->words[1].delivered == 0xFFFFFFU);
  REQUIRE(device.sum);
  CHECK(device.sum->by_byte);
  REQUIRE(device.locks.size() == 2);
  CHECK(device.locks[1].kind == LockKind::permanent);
  REQUIRE(device.times);
  CHECK(device.times->regions[0].erase_unit_us == 20000U);
  CHECK_FALSE(device.times->regions[1].erase_unit_us);
}

TEST_CASE("words, units and places of a device that contradict each other are refused") {
  constexpr Refusal cases[] = {
      {"erased=\"0xffffff\" write-unit=\"256\"", "erased=\"0xffffffff\" write-unit=\"256\"",
       "a blank word has bits that the word lacks: found 4294967295, expected at most 16777215"},
      {"size=\"0x20000\" word-bits=\"24\"", "size=\"0x20000\" word-bits=\"8\"",
       "a blank word has bits"},
      {"write-unit=\"256\" erase", "write-unit=\"2\" erase",
       "the write unit is no whole number of words: found 2, expected a multiple of 4"},
      {"erase-unit=\"2048\"", "erase-unit=\"384\"", "found 384, expected a multiple of 256"},
      {"write-unit=\"256\" erase", "write-unit=\"256\" ecc-word=\"24\" erase",
       "neither of write unit and ECC word is a multiple of the other: found 24"},
      {"<reset-vector address=\"0x0\"", "<reset-vector address=\"0x1f00000\"",
       "the reset vector lies in no region of code: found 32505856"},
      {"length=\"8\" over", "length=\"65\" over", "a kept location lies outside its region"},
      {"<location region=\"maker\"", "<location region=\"none\"",
       "the device has no such region: found none, expected flash, user-id, config, maker"},
      {"<revisions mask=\"0000ffff\">", "<revisions mask=\"0100ffff\">",
       "the revision's bits are part of the device ID: found such bits in byte 1"},
      {"<revisions mask=\"0000ffff\">", "<revisions mask=\"ffff\">", "found 2 bytes, expected 4"},
      {"title=\"B0\" allowed=\"yes\"", "title=\"B0\" allowed=\"no\"", "no revision is allowed"},
      {"<device-sum region=\"flash\"", "<device-sum region=\"rom\"", "no such region: found rom"},
  };
  all_refused(tx24(), cases);
  CHECK_THAT(refused(with(tx24(),
                          "address=\"0x1100000\" size=\"0x40\" word-bits=\"24\"\n"
                          "            address-unit=\"2\" erased=\"0xffffff\"",
                          "address=\"0x1100000\" size=\"0x40\" word-bits=\"24\"\n"
                          "            address-unit=\"2\" erased=\"0xffffff\" erase-unit=\"4\""),
                     read_device),
             ContainsSubstring("memory that is written once is not erased"));
}

TEST_CASE("configuration words, fields and locks that contradict each other are refused") {
  constexpr Refusal cases[] = {
      {"region=\"config\" address=\"0x1f00000\"", "region=\"flash\" address=\"0x1f00000\"",
       "configuration stands in no region of kind config: found flash"},
      {"region=\"config\" address=\"0x1f00004\"", "region=\"config\" address=\"0x1f00006\"",
       "a configuration word lies outside its region: found 0x1f00006"},
      {"region=\"config\" address=\"0x1f00004\"", "region=\"config\" address=\"0x1f00000\"",
       "found 0x1f00000, expected an address behind clock"},
      {"<word id=\"access\"", "<word id=\"clock\"", "two configuration words have one id"},
      {"mask=\"0x000006\"", "mask=\"0x000106\"",
       "a field has bits outside its word's mask: found 0x106, expected bits within 0x17"},
      {"mask=\"0x000006\"", "mask=\"0x000007\"",
       "two fields share bits: found 0x7, expected none of those of debug"},
      {"id=\"inner\" bits=\"0x000007\"", "id=\"inner\" bits=\"0x00000f\"",
       "a value has bits outside its field's mask: found 0xf, expected bits within 0x7"},
      {"id=\"crystal\" bits=\"0x000002\"", "id=\"crystal\" bits=\"0x000007\"",
       "two values of a field are alike: found 0x7, expected other than those of inner"},
      {"required=\"off\"", "required=\"of\"",
       "the required value is none of the field's: found of, expected on, off"},
      {"mask=\"0x000017\"", "mask=\"0x000037\"",
       "bits of a configuration word belong to no field: found 0x20"},
      {"id=\"inner\" bits=\"0x000007\"", "id=\"inner\" closes=\"serial\" bits=\"0x000007\"",
       "a value closes an entry, its field is not about entries: found serial"},
      {"<field id=\"debug\"", "<field id=\"watchdog\"", "two fields have one id: found watchdog"},
      {"<field id=\"entry\"", "<field id=\"debug\"", "two fields have one id: found debug"},
      {"field=\"read-out\" value=\"closed\"", "field=\"debug\" value=\"closed\"",
       "a lock is made by no field of protection: found debug"},
      {"field=\"read-out\" value=\"closed\"", "field=\"read-out\" value=\"shut\"",
       "the lock's value is none of its field's: found shut, expected one of read-out"},
  };
  all_refused(tx24(), cases);
}

TEST_CASE("what is programmed together is the longer of write unit and ECC word") {
  Region region;
  region.write_unit = 4;
  CHECK(region.together() == 4);
  region.ecc_word = 16;
  CHECK(region.together() == 16);
  region.write_unit = 64;
  CHECK(region.together() == 64);
}

TEST_CASE("every group of a ready profile cites something, or says that it does not") {
  for (const char* name : {"atmega328p", "pic16f1459", "tx14", "tx24", "tx32"}) {
    const Device device = taken_file(devices + name + ".xml", read_device);
    const bool invented = std::string_view(name).starts_with("tx");
    CHECK((device.title.find("invented") != std::string::npos) == invented);
    for (const Source& source : {device.regions_source, device.reset.source,
                                 device.configuration->source, device.supply.source}) {
      INFO(name << ": " << source.text);
      CHECK_FALSE(source.to_fill_in);
      CHECK(
          (source.from_memory || (source.text.find("invented") != std::string::npos) == invented));
    }
  }
}

TEST_CASE("the device profiles of the worked releases are the ready ones") {
  for (const char* file : {"01-frost-node/profiles/atmega328p.xml",
                           "02-tank-gauge/profiles/tx32.xml", "03-gate-remote/profiles/tx14.xml"}) {
    INFO(file);
    const std::string ready = devices + std::string(file).substr(std::string(file).rfind('/') + 1);
    CHECK(test::text_of_file(test::source_path(ready).string()) ==
          test::text_of_file(test::source_path("packages/" + std::string(file)).string()));
  }
}

// avr-libc: avr/iom328p.h, avr/fuse.h, avr/lock.h; binutils-avr's linker script for the addresses.
TEST_CASE("the ATmega328P's fuses and lock bits are those of avr-libc") {
  if (!have("avr-gcc") || !have("avr-objcopy")) {
    return;
  }
  const Device device = taken_file(devices + "atmega328p.xml", read_device);
  const auto script = run("cat /usr/lib/avr/lib/ldscripts/avr5.x");
  for (const auto& [region, name] :
       {std::pair("eeprom", "eeprom"), std::pair("fuses", "fuse"), std::pair("lock", "lock")}) {
    std::smatch found;
    const std::regex origin(std::string(name) + " +\\(rw!x\\) : ORIGIN = 0x([0-9a-f]+)");
    REQUIRE(std::regex_search(script.output, found, origin));
    CHECK(device.find_region(region)->address == hex_of(found[1]));
  }
  const auto& words = device.configuration->words;
  struct Bit { // FUSE_x is the byte with that bit programmed, which is 0
    const char* field;
    const char* value;
    const char* macro;
  };
  constexpr Bit bits[] = {
      {"ckout", "on", "FUSE_CKOUT"},
      {"ckdiv8", "on", "FUSE_CKDIV8"},
      {"bootrst", "boot", "FUSE_BOOTRST"},
      {"eesave", "preserved", "FUSE_EESAVE"},
      {"wdton", "on", "FUSE_WDTON"},
      {"spien", "enabled", "FUSE_SPIEN"},
      {"dwen", "on", "FUSE_DWEN"},
      {"rstdisbl", "port", "FUSE_RSTDISBL"},
      {"lb", "write", "LB_MODE_2"},
      {"lb", "read-write", "LB_MODE_3"},
      {"blb0", "mode-2", "BLB0_MODE_2"},
      {"blb0", "mode-3", "BLB0_MODE_3"},
      {"blb0", "mode-4", "BLB0_MODE_4"},
      {"blb1", "mode-2", "BLB1_MODE_2"},
      {"blb1", "mode-3", "BLB1_MODE_3"},
      {"blb1", "mode-4", "BLB1_MODE_4"},
      {"sut", "fastest", "FUSE_SUT1 & FUSE_SUT0"},
      {"sut", "middle", "FUSE_SUT1"},
      {"sut", "slow", "FUSE_SUT0"},
      {"bodlevel", "level-6", "FUSE_BODLEVEL0"},
      {"bodlevel", "level-5", "FUSE_BODLEVEL1"},
      {"bootsz", "large", "FUSE_BOOTSZ1"},
      {"bootsz", "small", "FUSE_BOOTSZ0"},
  };
  std::vector<std::string> wanted{"FUSE_MEMORY_SIZE", "LFUSE_DEFAULT", "HFUSE_DEFAULT",
                                  "EFUSE_DEFAULT", "LOCKBITS_DEFAULT"};
  for (const Bit& bit : bits) {
    wanted.emplace_back(bit.macro);
  }
  const auto values = avr_values(wanted);
  CHECK(device.find_region("fuses")->size == values.at("FUSE_MEMORY_SIZE"));
  CHECK(words[0].delivered == values.at("LFUSE_DEFAULT"));
  CHECK(words[1].delivered == values.at("HFUSE_DEFAULT"));
  CHECK(words[2].delivered == values.at("EFUSE_DEFAULT"));
  CHECK(words[3].delivered == values.at("LOCKBITS_DEFAULT"));
  for (const Bit& bit : bits) {
    INFO(bit.field << " " << bit.value);
    const ConfigField* field = device.configuration->find_field(bit.field);
    REQUIRE(field != nullptr);
    CHECK(field->value_of(values.at(bit.macro)) == field->find_value(bit.value));
    CHECK((values.at(bit.macro) | field->mask) == 0xFF);
  }
}

namespace {

// gputils: lkr/16f1459_g.lkr counts words; header/p16f1459.inc gives each option as a whole word.
void is_as_gputils_says(const Device& device) {
  INFO(device.id);
  const auto pages = code_pages("16f1459");
  for (const auto& [region, page] : {std::pair("flash", "page"), std::pair("user-id", ".idlocs"),
                                     std::pair("config", ".config")}) {
    INFO(page);
    const Region* found = device.find_region(region);
    CHECK(found->address == pages.at(page).first * 2);
    CHECK(found->end() == (pages.at(page).second + 1) * 2);
    CHECK(found->device_address(found->address) == pages.at(page).first);
  }
  const std::string header = test::text_of_file("/usr/share/gputils/header/p16f1459.inc");
  const std::size_t options = header.find("CONFIG1 Options");
  const std::size_t second = header.find("CONFIG2 Options");
  REQUIRE(second != std::string::npos);
  std::size_t values = 0;
  for (std::size_t i = 0; i < 2; ++i) {
    const ConfigWord& word = device.configuration->words[i];
    const std::string part =
        i == 0 ? header.substr(options, second - options) : header.substr(second);
    for (const ConfigField& field : word.fields) {
      for (const ConfigValue& value : field.values) {
        std::string name = "_" + field.id + "_" + value.id;
        name = std::regex_replace(name, std::regex("_x([34])x"), "_$1x"); // ids start with a letter
        name = std::regex_replace(name, std::regex("_x([24])"), "_$1");
        std::smatch found;
        const std::regex line(name + " +EQU +H'([0-9A-F]{4})'", std::regex::icase);
        INFO(name);
        REQUIRE(std::regex_search(part, found, line));
        CHECK(hex_of(found[1]) == (value.bits | (0x3FFFU & ~field.mask)));
        ++values;
      }
    }
  }
  CHECK(values > 40);
}

} // namespace

// The invented part runs what gpasm makes for the real one.
TEST_CASE("the memory and configuration of the PIC16F1459 and the TX14 are those of gputils") {
  if (!have("gpasm")) {
    return;
  }
  for (const char* name : {"pic16f1459", "tx14"}) {
    is_as_gputils_says(taken_file(devices + name + ".xml", read_device));
  }
}
