// Small files, one fault each, that lie outside the repository: under CARDSEAL_SHARED or in a
// folder `shared` beside the sources. Skipped when they are not there; every kind of fault has a
// test with an input of its own in intel_hex_read_test.cpp and srecord_test.cpp.
#include <filesystem>
#include <map>

#include "image/load.h"
#include "support/catch.h"
#include "support/shared_cases.h"
#include "unit/image/support.h"

using namespace image_test;

namespace {

const Bytes sixteen{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15};

struct Expected {
  const char* verdict; // the notes of what is accepted ("" for none), else the error
  bool accepted;
  std::uint64_t address = 0; // of the sixteen bytes that each file holds: 0 to 15, or
  int all = -1;              // all of this value
};

const std::map<std::string, Expected> verdicts{
    {"B_noend.s19", {"srec-no-end 3:1 the end of the file|a record S7, S8 or S9", false}},
    {"C3_s6bad.s19", {"srec-count 3:5 7|1, as many as were read", false}},
    {"D_s3s9.s19", {"end-kind:1:2", true, 0x08000000}},
    {"F2_lowerhex.s19", {"", true, 0, 0xAB}},
    {"G_after.s19",
     {"srec-after-end 3:1 \"S11300200001020304050607...\"|nothing, or lines of text", false}},
    {"I_s4.s19", {"srec-type 2:2 '4'|S0 to S3 or S5 to S9", false}},
    {"J_wrap.s19", {"srec-past-4g 1:5 last byte at 0x100000007|0xFFFFFFFF at most", false}},
    {"L_trail.s19", {"space-around-record:1:1", true}},
    {"N_blank.s19", {"blank-line:2:1", true}},
    {"P_cr.s19", {"", true}},
    {"R_zero.s19", {"empty-record:1:2", true}},
    {"T_s9nz.s19", {"", true}},
    {"b_noeof.hex", {"hex-no-end 2:1 the end of the file|a record of type 0x01", false}},
    {"d_data_after.hex",
     {"hex-after-end 3:1 \":10002000000102030405060...\"|nothing, or lines of text", false}},
    {"f_cr.hex", {"", true}},
    {"h_bom.hex", {"byte-order-mark:1:1", true}},
    {"j_trail.hex", {"space-around-record:1:1", true}},
    {"l_comment.hex", {"hex-line-start 1:1 ';'|':'", false}},
    {"n_dupdiff.hex", {"image-conflict 2:0 0xFF on line 2|0x08 on line 1", false}},
    {"p2_cross_lin_ela1.hex", {"", true, 0x1FFF8}},
    {"q2_cross_none.hex", {"hex-past-64k 1:4 last byte at 0x10007|0xFFFF at most", false}},
    {"r_zero.hex", {"empty-record:1:2", true}},
    {"t2_05.hex", {"", true}},
    {"u_wrap4g.hex", {"hex-past-4g 2:4 last byte at 0x100000007|0xFFFFFFFF at most", false}},
    {"w_badcks.hex", {"hex-checksum 1:42 0x00|0x78", false}},
    {"x_mix0204.hex",
     {"hex-two-bases 3:10 linear base 0x10000 after segment base 0x10000 on line 1|"
      "records of type 0x02 or 0x04, not both",
      false}},
    {"y_eof_addr.hex", {"end-address:1:2", true}},
    {"z3_short.hex", {"hex-short 1:40 39 characters|43 characters", false}},
    {"z5_empty.hex", {"firmware-empty 1:1 0 bytes|firmware", false}},
    {"z7_twoonline.hex",
     {"hex-long 1:44 \":10001000000102030405060...\"|the end of the line", false}},
    {"z_ela_len.hex", {"hex-length 1:2 3 data bytes|2 in a record of type 0x04", false}},
};

Try<Loaded> load(const std::filesystem::path& path, const LoadOptions& options = {}) {
  return load_firmware(io::real_system(), path, options);
}

} // namespace

TEST_CASE("every shared case has the verdict that its fault deserves") {
  const auto folder = test::shared_case("cases/firmware");
  if (!folder) {
    return;
  }
  std::size_t seen = 0;
  for (const auto& entry : std::filesystem::directory_iterator(*folder)) {
    const std::string name = entry.path().filename().string();
    INFO(name);
    REQUIRE(verdicts.count(name) == 1);
    const Expected& expected = verdicts.at(name);
    ++seen;
    const Try<Loaded> result = load(entry.path());
    REQUIRE(result.has_value() == expected.accepted);
    if (result) {
      CHECK(spell(result->firmware.notes) == expected.verdict);
      const Bytes bytes =
          expected.all < 0 ? sixteen : Bytes(16, static_cast<std::uint8_t>(expected.all));
      CHECK(result->firmware.image.digest() == make_image({{expected.address, bytes}}).digest());
    } else {
      CHECK(spell(result.error()) == expected.verdict);
    }
  }
  CHECK(seen == verdicts.size());
}

TEST_CASE("the shared cases that an option or a start address concerns") {
  const auto folder = test::shared_case("cases/firmware");
  if (!folder) {
    return;
  }
  LoadOptions options;
  options.hex.allow_missing_end = true;
  options.hex.allow_comments = true;
  const crypto::Digest plain = make_image({{0, sixteen}}).digest();
  const Try<Loaded> no_end = load(*folder / "b_noeof.hex", options);
  REQUIRE(no_end.has_value());
  CHECK(spell(no_end->firmware.notes) == "missing-end:1:1");
  CHECK(no_end->firmware.image.digest() == plain);
  const Try<Loaded> comments = load(*folder / "l_comment.hex", options);
  REQUIRE(comments.has_value());
  CHECK(spell(comments->firmware.notes) == "comment-line:2:1");
  CHECK(comments->firmware.image.digest() == plain);
  const Try<Loaded> no_s9 = load(*folder / "B_noend.s19", options);
  REQUIRE(no_s9.has_value());
  CHECK(spell(no_s9->firmware.notes) == "missing-end:1:2");
  CHECK(no_s9->firmware.image.digest() == plain);
  CHECK(no_s9->firmware.header == "HDR");
  CHECK(load(*folder / "T_s9nz.s19")->firmware.start == StartAddress{StartKind::linear, 0x1234, 2});
  CHECK(load(*folder / "t2_05.hex")->firmware.start ==
        StartAddress{StartKind::linear, 0x08000101, 2});
  CHECK(load(*folder / "y_eof_addr.hex")->firmware.start ==
        StartAddress{StartKind::end_record, 0x1234, 2});
  const Try<Loaded> conflict = load(*folder / "n_dupdiff.hex");
  REQUIRE_FALSE(conflict.has_value());
  CHECK(conflict.error().place.item == "address 0x8");
}
