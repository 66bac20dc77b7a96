// The worked release's device profile against avr-libc's header, and the digest that it states.
#include <string>

#include "profile/device.h"
#include "support/authored.h"
#include "support/outside.h"
#include "support/text_file.h"

using namespace cardseal;
using test::have;
using test::run;
using test::shell;

namespace {

const std::string firmware = "packages/01-frost-node/firmware/";

std::uint32_t header_value(const std::string& macro) {
  const auto ran = run("printf '#include <avr/io.h>\\n@ " + macro +
                       "\\n' | avr-gcc -mmcu=atmega328p -E -P - | sed -n 's/^@ //p'");
  INFO(macro << ": " << ran.output);
  REQUIRE(ran.exit_code == 0);
  return static_cast<std::uint32_t>(std::stoul(ran.output, nullptr, 0));
}

} // namespace

// avr-libc, avr/iom328p.h by way of avr/io.h and the compiler's own preprocessor.
TEST_CASE("the ATmega328P's profile says what avr-libc says") {
  if (!have("avr-gcc")) {
    return;
  }
  const auto device =
      test::taken_file("packages/01-frost-node/profiles/atmega328p.xml", profile::read_device);
  const profile::Region* flash = device.find_region("flash");
  const profile::Region* eeprom = device.find_region("eeprom");
  REQUIRE(flash != nullptr);
  REQUIRE(eeprom != nullptr);
  CHECK(flash->address == 0);
  CHECK(flash->end() == header_value("FLASHEND") + 1);
  CHECK(flash->write_unit == header_value("SPM_PAGESIZE"));
  CHECK(eeprom->size == header_value("E2END") + 1);
  CHECK(eeprom->write_unit == header_value("E2PAGESIZE"));
  REQUIRE(device.device_id);
  REQUIRE(device.device_id->value.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(device.device_id->value[i] == header_value("SIGNATURE_" + std::to_string(i)));
    CHECK(device.device_id->mask[i] == 0xFF);
  }
}

// sha256sum of coreutils.
TEST_CASE("the digest in the frost node's release is that of its HEX") {
  const auto sum =
      run("sha256sum < " + shell(test::source_path(firmware + "frost_node.hex").string()));
  REQUIRE(sum.exit_code == 0);
  CHECK_THAT(test::text_of_file(test::source_path("packages/01-frost-node/release.xml")),
             ContainsSubstring("sha256=\"" + sum.output.substr(0, 64) + "\""));
}
