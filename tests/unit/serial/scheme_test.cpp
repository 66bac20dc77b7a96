// The author's form of serial schemes, and the arithmetic that must hold before one is used.
#include <string>

#include "serial/scheme.h"
#include "support/authored.h"

using namespace cardseal;
using namespace cardseal::serial;
using test::with;

namespace {

xml::All<Scheme> read(const xml::Document& document) {
  xml::Reader reader(document);
  return reader.result(read_scheme(reader.root("serial")));
}

const std::string scheme_text = R"(<serial scheme="fn-serial" first="1" step="1" capacity="999999">
<literal text="FN"/>
<number base="10" width="6"/>
<place region="flash" address="0x7ff0" encoding="ascii" length="8" before="erased"/>
<place region="flash" address="0x7FF8" encoding="binary-le" length="4" before="placeholder"/>
</serial>)";

std::string refused(const char* from, const char* to) {
  return test::refused(with(scheme_text, from, to), read);
}

} // namespace

TEST_CASE("a scheme gives numbers, parts and placements") {
  const Scheme scheme = test::taken(scheme_text, read);
  CHECK(scheme.id == "fn-serial");
  CHECK(scheme.first == 1);
  CHECK(scheme.capacity == 999999);
  CHECK(scheme.last() == 999999);
  REQUIRE(scheme.parts.size() == 2);
  CHECK(scheme.parts[0].kind == PartKind::literal);
  CHECK(scheme.parts[0].text == "FN");
  CHECK(scheme.parts[1].kind == PartKind::number);
  CHECK(scheme.parts[1].width == 6);
  CHECK(scheme.text_length() == 8);
  REQUIRE(scheme.placements.size() == 2);
  CHECK(scheme.placements[0].address == 0x7FF0);
  CHECK(scheme.placements[1].encoding == Encoding::binary_le);
  CHECK(scheme.placements[1].before == Before::placeholder);
  CHECK(scheme.placements[1].place.line == 5);
}

TEST_CASE("parts keep the order of the file") {
  const Scheme scheme = test::taken(with(with(scheme_text, "<literal text=\"FN\"/>", ""),
                                         "<number base=\"10\" width=\"6\"/>",
                                         "<number base=\"10\" width=\"6\"/><literal text=\"-F\"/>"),
                                    read);
  CHECK(scheme.parts[0].kind == PartKind::number);
  CHECK(scheme.parts[1].text == "-F");
}

TEST_CASE("a last number that outgrows its width is refused with both values") {
  CHECK(
      refused("capacity=\"999999\"", "capacity=\"1000000\"") ==
      "a.xml:1: the last number does not fit its width: found 1000000, expected at most 999999, 6 "
      "digits (lower capacity, or widen <number>)\n");
  CHECK_FALSE(refused("step=\"1\"", "step=\"2\"").empty());
  CHECK_FALSE(refused("first=\"1\"", "first=\"2\"").empty());
  CHECK(refused("first=\"1\"", "first=\"0\"").empty());
}

TEST_CASE("a last number that outgrows its bytes is refused") {
  CHECK(refused("length=\"4\"", "length=\"2\"") ==
        "a.xml:5: the last number does not fit the placement: found 999999 in 2 bytes, expected at "
        "most 65535 (lower capacity, or lengthen the placement)\n");
  CHECK(refused("length=\"4\"", "length=\"3\"").empty());
  CHECK(refused("length=\"4\"", "length=\"8\"").empty());
  CHECK_THAT(refused("length=\"4\"", "length=\"9\""),
             ContainsSubstring("found 9, expected 1 to 8"));
}

TEST_CASE("a text placement is exactly as long as the text") {
  CHECK(refused("length=\"8\"", "length=\"7\"") ==
        "a.xml:4: the placement's length is not the serial text's: found 7, expected 8 (count the "
        "characters of all parts)\n");
}

TEST_CASE("placements share no address and stay within 32 bits") {
  CHECK(refused("0x7FF8", "0x7ff7") ==
        "a.xml:5: two placements share addresses: found 0x7ff7, expected addresses outside of the "
        "placement in line 4 (move one of the two)\n");
  CHECK(refused("0x7FF8", "0x7fec").empty());
  CHECK_FALSE(refused("0x7FF8", "0x7fed").empty());
  CHECK(refused("0x7FF8", "0xfffffffc").empty());
  CHECK_THAT(refused("0x7FF8", "0xfffffffd"), ContainsSubstring("found 4294967297"));
}

TEST_CASE("a scheme has exactly one number and at least one part and place") {
  CHECK_THAT(refused("<number base=\"10\" width=\"6\"/>", ""),
             ContainsSubstring("found 0, expected exactly one <number>"));
  CHECK_THAT(refused("<literal text=\"FN\"/>", "<number base=\"10\" width=\"6\"/>"),
             ContainsSubstring("found 2, expected exactly one <number>"));
  CHECK_THAT(test::refused("<serial scheme=\"a\" first=\"1\" step=\"1\" capacity=\"1\"/>", read),
             ContainsSubstring("wrong number of <place>: found 0, expected 1 to 8"));
}

TEST_CASE("numbers at the far end are refused without wrapping") {
  const std::string wide = with(scheme_text, "width=\"6\"", "width=\"19\"");
  const std::string far = with(wide, "first=\"1\"", "first=\"9999999999999999999\"");
  CHECK_THAT(test::refused(far, read), ContainsSubstring("the last number is too large"));
  // 1 + 999,999 * (10^12 - 1) = 999,998,999,999,000,002, in 18 digits and 8 bytes
  std::string most = with(wide, "capacity=\"999999\"", "capacity=\"1000000000000\"");
  most = with(most, "step=\"1\"", "step=\"999999\"");
  most = with(most, "length=\"4\"", "length=\"8\"");
  most = with(most, "ascii\" length=\"8\"", "ascii\" length=\"21\"");
  most = with(most, "0x7ff0", "0x7000");
  CHECK(test::taken(most, read).last() == 999998999999000002ULL);
}

TEST_CASE("values of other forms are refused with their line") {
  CHECK_THAT(refused("width=\"6\"", "width=\"20\""),
             ContainsSubstring("a.xml:3: width of <number>"));
  CHECK_THAT(refused("base=\"10\"", "base=\"16\""), ContainsSubstring("expected 10 to 10"));
  CHECK_THAT(refused("step=\"1\"", "step=\"0\""), ContainsSubstring("expected 1 to 999999"));
  CHECK_THAT(refused("text=\"FN\"", "text=\"F\xC3\x85\""), ContainsSubstring("printable ASCII"));
  CHECK_THAT(refused("before=\"erased\"", "before=\"blank\""),
             ContainsSubstring("expected erased, placeholder"));
}
