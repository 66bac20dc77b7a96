// Other people's readers of Intel HEX: objcopy (GNU binutils) and srec_cat (SRecord). They must
// read what our writer wrote, and what we accept without a note, to the bytes that we have.
#include <fstream>
#include <random>
#include <sstream>

#include "image/checksums.h"
#include "image/intel_hex.h"
#include "image/range.h"
#include "image/raw.h"
#include "support/catch.h"
#include "support/outside.h"
#include "support/temp_folder.h"
#include "unit/image/support.h"

using namespace image_test;
using cardseal::test::TempFolder;

namespace {

constexpr std::uint8_t gap_value = 0xA5;

void write(const std::filesystem::path& path, std::string_view text) {
  std::ofstream(path, std::ios::binary) << text;
}

Bytes content(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream all;
  all << in.rdbuf();
  return to_bytes(bytes_of(all.str()));
}

void judge(const std::string& command) {
  const test::Ran ran = test::run(command);
  INFO(command << "\n" << ran.output);
  REQUIRE(ran.exit_code == 0);
}

Bytes by_objcopy(const TempFolder& folder, const std::string& hex, const Segment&) {
  const std::string out = (folder / "objcopy.bin").string();
  judge("objcopy -I ihex -O binary --gap-fill 0xA5 " + test::shell(hex) + " " + test::shell(out));
  return content(out);
}

// srec_cat writes from address 0 on, so that what it read is moved down. Bytes outside of what we
// take for the file's extent would lengthen its output.
Bytes by_srec_cat(const TempFolder& folder, const std::string& hex, const Segment& extent) {
  const std::string out = (folder / "srec_cat.bin").string();
  judge("srec_cat " + test::shell(hex) + " -intel -fill 0xA5 " + std::to_string(extent.address) +
        " " + std::to_string(extent.end()) + " -offset -" + std::to_string(extent.address) +
        " -o " + test::shell(out) + " -binary");
  return content(out);
}

struct Case {
  std::string name;
  std::string hex;
};

// Data of several segments, written by our writer in different ways.
std::vector<Case> written_cases() {
  std::mt19937 random = fixed_random(99);
  std::vector<Part> parts;
  for (const std::uint64_t address : {0x0FF0ULL, 0xFFF5ULL, 0x1FFFFULL, 0x24000ULL}) {
    Bytes bytes(300 + random() % 300);
    for (std::uint8_t& byte : bytes) {
      byte = static_cast<std::uint8_t>(random());
    }
    parts.push_back({address, bytes});
  }
  std::vector<Case> cases;
  for (const std::uint32_t length : {1U, 16U, 32U, 255U}) {
    HexWriteOptions options;
    options.record_length = length;
    options.line_end = length == 32 ? LineEnd::crlf : LineEnd::lf;
    options.start = StartAddress{StartKind::linear, 0x24000, 0};
    const auto text = write_intel_hex(make_image(parts), options);
    cases.push_back({std::to_string(length) + " bytes a record", std::string(text_of(*text))});
  }
  return cases;
}

// Files as others write them.
std::vector<Case> foreign_cases() {
  return {
      {"segment base", record(0, 2, {0x20, 0x00}) + "\n" + record(0x0100, 0, {1, 2, 3}) + "\n" +
                           record(0x0110, 0, {4}) + "\n" + record(0, 3, {0x20, 0, 1, 0}) + "\n" +
                           end_record},
      {"CRLF", record(0x0100, 0, {1, 2, 3}) + "\r\n:00000001FF\r\n"},
      {"out of order",
       record(0x0110, 0, {4, 5}) + "\n" + record(0x0100, 0, {1, 2, 3}) + "\n" + end_record},
  };
}

template <class Judge>
void judge_all(const char* name, Judge by) {
  if (!test::have(name)) {
    return;
  }
  const TempFolder folder;
  std::vector<Case> cases = written_cases();
  for (Case& each : foreign_cases()) {
    cases.push_back(std::move(each));
  }
  for (const Case& each : cases) {
    INFO(each.name);
    const Try<Firmware> ours = read(each.hex);
    REQUIRE(verdict(ours) == "accepted");
    const auto expected = write_raw(ours->image, {{}, gap_value});
    REQUIRE(expected.has_value());
    write(folder / "in.hex", each.hex);
    CHECK(by(folder, (folder / "in.hex").string(), *extent(ours->image)) == *expected);
  }
}

} // namespace

TEST_CASE("objcopy reads the same bytes as we do") {
  judge_all("objcopy", by_objcopy);
}

TEST_CASE("srec_cat reads the same bytes as we do") {
  judge_all("srec_cat", by_srec_cat);
}

// srec_cat computes CRC-32/ISO-HDLC over the image's bytes with its filter -crc32-l-e, which stores
// the value low byte first at the address given.
TEST_CASE("srec_cat's CRC-32 of an image without gaps is ours") {
  if (!test::have("srec_cat")) {
    return;
  }
  const TempFolder folder;
  const std::string hex = record(0x0100, 0, {1, 2, 3, 4, 5, 6, 7}) + "\n" + end_record;
  write(folder / "in.hex", hex);
  judge("srec_cat " + test::shell((folder / "in.hex").string()) +
        " -intel -crc32-l-e 0x0107 -crop 0x0107 0x010B -offset -0x107 -o " +
        test::shell((folder / "crc.bin").string()) + " -binary");
  const Bytes crc_bytes = content(folder / "crc.bin");
  REQUIRE(crc_bytes.size() == 4);
  CHECK(load_le32(crc_bytes.data()) ==
        *image_crc(read(hex)->image, *find_crc("CRC-32/ISO-HDLC"), {}));
}
