#include "image/load.h"

#include <fstream>

#include "support/catch.h"
#include "support/temp_folder.h"
#include "unit/image/support.h"

using namespace image_test;
using cardseal::test::TempFolder;

namespace {

const std::string small = ":10000000000102030405060708090A0B0C0D0E0F78\n:00000001FF\n";

std::filesystem::path write(const TempFolder& folder, const std::string& name,
                            const std::string& text) {
  std::filesystem::path path = folder / name;
  std::ofstream(path, std::ios::binary) << text;
  return path;
}

std::string load_verdict(const std::string& text, const LoadOptions& options = {}) {
  const Try<Loaded> result = load_firmware(bytes_of(text), "in", options);
  return result ? std::string(word_of(result->format)) : spell(result.error());
}

} // namespace

TEST_CASE("the format is told by content and never guessed to be raw") {
  const std::string unknown =
      "|ELF, or a line that is a record of Intel HEX (':') or S-record ('S')";
  CHECK(load_verdict(small) == "intel-hex");
  CHECK(load_verdict(std::string("\xEF\xBB\xBF\r\n \t") + small) == "intel-hex");
  CHECK(load_verdict(std::string("; comment\n") + small) == "hex-line-start 1:1 ';'|':'");
  CHECK(load_verdict("\x7F"
                     "EL\x02") == "firmware-format 0:0 first byte 0x7F" + unknown);
  CHECK(load_verdict("\x7F"
                     "ELF\x02") == "elf-header 0:0 a header that is none|an ELF file of version 1, "
                                   "32 or 64 bits, either byte order");
  CHECK(load_verdict("S9030000FC\n") == "s-record");
  CHECK(load_verdict(" \nS0030000FC\nS9030000FC\n") == "s-record");
  CHECK(load_verdict("S903000\n") == "firmware-format 0:0 first byte 0x53" + unknown);
  CHECK(load_verdict("SA030000FC\n") == "firmware-format 0:0 first byte 0x53" + unknown);
  CHECK(load_verdict(std::string("\0", 1) + "\n" + small) ==
        "firmware-format 0:0 first byte 0x00" + unknown);
  CHECK(load_verdict("time: 12:00000000\n") == "firmware-format 0:0 first byte 0x74" + unknown);
  CHECK(load_verdict("") == "firmware-empty 1:1 0 bytes|firmware");
}

TEST_CASE("a stated format is taken, and raw needs its address") {
  LoadOptions options;
  options.format = Format::raw;
  CHECK(load_verdict(small, options) == "raw-address 0:0 |");
  options.raw_address = 0x100;
  CHECK(load_verdict(small, options) == "raw");
  options.format = Format::intel_hex;
  CHECK(load_verdict(small, options) == "raw-address 0:0 |");
  options.raw_address.reset();
  CHECK(load_verdict("xyz", options) == "hex-line-start 1:1 'x'|':'");
  options.format = Format::s_record;
  CHECK(load_verdict(small, options) == "srec-line-start 1:1 ':'|'S'");
  options.format = Format::elf;
  CHECK(load_verdict(small, options).starts_with("elf-header 0:0 "));
  options.format.reset();
  options.elf_unit = 2;
  CHECK(load_verdict(small, options) == "elf-option 0:0 |");
  for (const Format format : {Format::intel_hex, Format::s_record, Format::elf, Format::raw}) {
    CHECK(find_format(word_of(format)) == format);
  }
  CHECK(find_format("intel-hex") == Format::intel_hex);
  CHECK_FALSE(find_format("RAW").has_value());
}

// FIPS 180-4: SHA-256 of "abc".
TEST_CASE("a file from disk gives its image, size and digest") {
  const TempFolder folder;
  const Try<Loaded> hex = load_firmware(io::real_system(), write(folder, "a.hex", small));
  REQUIRE(hex.has_value());
  CHECK(hex->format == Format::intel_hex);
  CHECK(hex->file_size == small.size());
  CHECK(hex->file_digest == crypto::sha256(bytes_of(small)));
  CHECK(hex->firmware.image.size() == 16);
  CHECK(hex->file == (folder / "a.hex").string());

  LoadOptions options;
  options.format = Format::raw;
  options.raw_address = 0x8000;
  const Try<Loaded> raw = load_firmware(io::real_system(), write(folder, "a.bin", "abc"), options);
  REQUIRE(raw.has_value());
  CHECK(crypto::hex(raw->file_digest) ==
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(raw->firmware.image.segments() == std::vector<Segment>{{0x8000, 3}});
}

TEST_CASE("a file of several read pieces gives the same as one in memory") {
  Bytes bytes(1500000);
  for (std::size_t at = 0; at < bytes.size(); ++at) {
    bytes[at] = static_cast<std::uint8_t>(at * 31 + (at >> 8));
  }
  const SparseImage image = make_image({{0x1000, bytes}});
  const auto text = write_intel_hex(image);
  REQUIRE(text.has_value());
  const TempFolder folder;
  const std::string whole(text_of(*text));
  const Try<Loaded> loaded = load_firmware(io::real_system(), write(folder, "big.hex", whole));
  REQUIRE(loaded.has_value());
  CHECK(loaded->firmware.image.digest() == image.digest());
  CHECK(loaded->file_digest == crypto::sha256(*text));
  const Try<Loaded> cut =
      load_firmware(io::real_system(), write(folder, "cut.hex", whole.substr(0, 3000000)));
  REQUIRE_FALSE(cut.has_value());
  CHECK(cut.error().place.line == 1 + std::count(whole.begin(), whole.begin() + 3000000, '\n'));
}

TEST_CASE("a file that can't be read, is empty or too large is refused") {
  const TempFolder folder;
  const auto code = [&](const std::filesystem::path& path) {
    const Try<Loaded> result = load_firmware(io::real_system(), path);
    return result ? std::string("accepted") : result.error().code;
  };
  const Try<Loaded> missing = load_firmware(io::real_system(), folder / "none.hex");
  REQUIRE_FALSE(missing.has_value());
  CHECK(missing.error().kind == ErrorKind::no_input);
  CHECK_FALSE(load_firmware(io::real_system(), folder.path()).has_value());
  CHECK(code(write(folder, "empty.hex", "")) == "firmware-empty");
  const std::filesystem::path large = write(folder, "large.hex", small);
  std::filesystem::resize_file(large, longest_firmware_file + 1);
  const Try<Loaded> too_large = load_firmware(io::real_system(), large);
  REQUIRE_FALSE(too_large.has_value());
  CHECK(spell(too_large.error()) == "file-too-large 0:0 1073741825 bytes|at most 1073741824");
}
