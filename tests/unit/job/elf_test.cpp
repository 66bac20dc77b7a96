// Releases of linked programs: their sections go to the regions of the device's profile.
#include <fstream>

#include "crypto/sha256.h"
#include "image/load.h"
#include "job/rules.h"
#include "releases.h"
#include "support/outside.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// The frost node with another firmware, whose configuration stands in the file.
struct Program {
  Program() {
    const io::Path node = source_path("packages/01-frost-node");
    std::filesystem::copy(node / "profiles", folder / "profiles");
    release.documents.clear();
    release.serial.reset();
    release.firmware.image_sha256.reset();
    release.device.configuration = format::Configuration::in_firmware;
  }
  void write(const char* name, std::string_view text) const {
    std::ofstream(folder / name, std::ios::binary) << text;
  }
  void shell_run(const std::string& command) const {
    const auto ran = run("cd " + shell(folder.path().string()) + " && " + command);
    INFO(ran.output);
    REQUIRE(ran.exit_code == 0);
  }
  job::CompiledRelease compile(const char* file, format::FirmwareFormat format) {
    name(file, format);
    return compiled(release, folder.path());
  }
  xml::Errors errors(const char* file, format::FirmwareFormat format) {
    name(file, format);
    auto out = job::compile(io::real_system(), release, folder.path(), {}, "test");
    REQUIRE_FALSE(out);
    return out.error();
  }
  void name(const char* file, format::FirmwareFormat format) {
    const std::string content = text_of_file(folder / file);
    release.firmware.file = file;
    release.firmware.format = format;
    release.firmware.sha256 = crypto::sha256(bytes_of(content));
  }
  TempFolder folder;
  job::ReleaseFile release = taken_file("packages/01-frost-node/release.xml", job::read_release);
};

constexpr std::string_view avr_program = R"(
#include <avr/io.h>
#include <avr/eeprom.h>
#include <avr/signature.h>
FUSES = {.low = LFUSE_DEFAULT, .high = HFUSE_DEFAULT, .extended = EFUSE_DEFAULT};
LOCKBITS = LOCKBITS_DEFAULT;
unsigned char EEMEM first = 7;
volatile int x = 5;
int main(void) { for (;;) x++; }
)";

} // namespace

// avr-gcc and binutils-avr: avr5.x places .eeprom, .fuse, .lock and .signature.
TEST_CASE("a linked AVR program fills flash, data memory, fuses and lock, and states its device") {
  if (!have("avr-gcc") || !have("avr-objcopy")) {
    return;
  }
  Program program;
  program.write("t.c", avr_program);
  program.shell_run("avr-gcc -mmcu=atmega328p -Os -o t.elf t.c");
  const job::CompiledRelease out = program.compile("t.elf", format::FirmwareFormat::elf);
  INFO(job::list_findings(out.findings));
  CHECK_FALSE(out.findings.refused());
  CHECK(out.facts.firmware_format == format::FirmwareFormat::elf);
  CHECK(out.image.at(0x810000) == 7);
  CHECK(out.image.at(0x820000) == 0x62);
  CHECK(out.image.at(0x820001) == 0xD9);
  CHECK(out.image.at(0x830000) == 0xFF);
  CHECK_FALSE(out.image.at(0x840000)); // the signature is compared, not programmed
  const auto whole =
      image::load_firmware(io::real_system(), program.folder / "t.elf", image::LoadOptions{});
  REQUIRE(whole.has_value());
  program.release.firmware.image_sha256 = whole->firmware.image.digest(); // as cardseal image says
  CHECK(program.compile("t.elf", format::FirmwareFormat::elf)
            .findings.count(job::rules::image_digest) == 0);
  program.release.firmware.image_sha256.reset();
  program.shell_run("avr-objcopy -O ihex -R .signature t.elf t.hex");
  CHECK(program.compile("t.hex", format::FirmwareFormat::intel_hex).image.digest() ==
        out.image.digest());
  program.shell_run("avr-gcc -mmcu=atmega328 -Os -o other.elf t.c"); // signature 1E 95 14
  CHECK(program.compile("other.elf", format::FirmwareFormat::elf)
            .findings.count(job::rules::other_device) == 1);
}

// GNU ld makes the ELF file: its address 0x80 is the device's, which is byte 0x100.
TEST_CASE("an ELF file that counts as the device does gives the image of its HEX file") {
  if (!have("arm-none-eabi-ld") || !have("arm-none-eabi-objcopy")) {
    return;
  }
  Program program;
  program.release.device.file =
      source_path("templates/author/devices/tx24.xml").string(); // absolute: as it is
  program.write("a.bin", std::string("\x04\x02\x04\0\x01\x02\x03\0", 8));
  program.shell_run("arm-none-eabi-ld -n -e 0 -Tdata=0x80 -b binary a.bin -o a.elf");
  program.shell_run("arm-none-eabi-objcopy -I binary -O ihex --change-addresses 0x100 a.bin a.hex");
  const job::CompiledRelease elf = program.compile("a.elf", format::FirmwareFormat::elf);
  CHECK(elf.image.at(0x100) == 0x04);
  CHECK(elf.image.digest() ==
        program.compile("a.hex", format::FirmwareFormat::intel_hex).image.digest());
}

// GNU as and ld: what aligns the second section is in the segment, and in no section.
TEST_CASE("how an ELF file is read is stated in the release") {
  if (!have("arm-none-eabi-as") || !have("arm-none-eabi-ld")) {
    return;
  }
  Program program;
  program.release.device.file = source_path("templates/author/devices/tx32.xml").string();
  program.write("a.s", ".text\n.word 1\n.section .rodata\n.balign 16\n.word 2\n");
  program.shell_run("arm-none-eabi-as a.s -o a.o && "
                    "arm-none-eabi-ld -n -e 0 -Ttext=0x8000000 a.o -o a.elf");
  program.release.firmware.elf_by = job::ElfBy::sections;
  CHECK(program.compile("a.elf", format::FirmwareFormat::elf).image.size() == 8);
  program.release.firmware.elf_by = job::ElfBy::segments;
  CHECK(program.compile("a.elf", format::FirmwareFormat::elf).image.size() == 20);
}

TEST_CASE("a device that counts its regions differently takes no ELF file") {
  Program program;
  std::string mixed = text_of_file(source_path("templates/author/devices/tx32.xml"));
  const std::string_view unit = "address-unit=\"1\"";
  mixed.replace(mixed.find(unit), unit.size(), "address-unit=\"4\"");
  program.write("mixed.xml", mixed);
  program.write("a.elf", "");
  program.release.device.file = (program.folder / "mixed.xml").string();
  const xml::Errors errors = program.errors("a.elf", format::FirmwareFormat::elf);
  REQUIRE(errors.size() == 1);
  CHECK(errors[0].code == "elf-mixed-units");
  CHECK_THAT(describe(errors[0]), ContainsSubstring("different address units, expected one"));
}

TEST_CASE("a file without an end record, or with comments, is read where the release allows it") {
  Program program;
  const std::string hex =
      text_of_file(source_path("packages/01-frost-node/firmware/frost_node.hex"));
  program.write("a.hex", "; build 7\n" + hex.substr(0, hex.rfind(":00000001FF")));
  CHECK(program.errors("a.hex", format::FirmwareFormat::intel_hex).size() == 1);
  program.release.firmware.comments_allowed = true;
  CHECK(program.errors("a.hex", format::FirmwareFormat::intel_hex)[0].code == "hex-no-end");
  program.release.firmware.missing_end_allowed = true;
  const job::CompiledRelease out = program.compile("a.hex", format::FirmwareFormat::intel_hex);
  CHECK(out.findings.count(job::rules::firmware_note) == 1);
  CHECK(out.findings.count(job::rules::firmware_end) == 1);
}
