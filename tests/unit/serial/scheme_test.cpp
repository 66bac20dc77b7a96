// The author's form of serial schemes, and the arithmetic that must hold before one is used.
#include <string>

#include "serial/scheme.h"
#include "support/authored.h"
#include "support/hex.h"

using namespace cardseal;
using namespace cardseal::serial;
using test::with;

namespace {

std::vector<std::uint8_t> slice_of(const unit::UnitBytes& bytes) {
  const ByteView view = bytes.view();
  return {view.begin(), view.end()};
}

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
  CHECK(scheme.numbers.id.view() == "fn-serial");
  CHECK(scheme.numbers.first == 1);
  CHECK(scheme.numbers.capacity == 999999);
  CHECK(scheme.last == 999999);
  REQUIRE(scheme.parts.count == 2);
  CHECK(scheme.parts.items[0].kind == format::PartKind::literal);
  CHECK(scheme.parts.items[0].literal.value.view() == "FN");
  CHECK(scheme.parts.items[1].kind == format::PartKind::number);
  CHECK(scheme.parts.items[1].width.value == 6);
  CHECK(scheme.text_length() == 8);
  REQUIRE(scheme.placements.size() == 2);
  CHECK(scheme.placements[0].address == 0x7FF0);
  CHECK(scheme.placements[1].encoding == format::Encoding::binary_le);
  CHECK(scheme.placements[1].before == format::Before::placeholder);
  CHECK(scheme.placements[1].place.line == 5);
}

TEST_CASE("parts keep the order of the file") {
  const Scheme scheme = test::taken(with(with(scheme_text, "<literal text=\"FN\"/>", ""),
                                         "<number base=\"10\" width=\"6\"/>",
                                         "<number base=\"10\" width=\"6\"/><literal text=\"-F\"/>"),
                                    read);
  CHECK(scheme.parts.items[0].kind == format::PartKind::number);
  CHECK(scheme.parts.items[1].literal.value.view() == "-F");
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
        "characters of all parts, or state padding)\n");
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
             ContainsSubstring("found 0, expected exactly one <number>, or <eui>"));
  CHECK_THAT(refused("<literal text=\"FN\"/>", "<number base=\"10\" width=\"6\"/>"),
             ContainsSubstring("found 2, expected exactly one <number>, or <eui>"));
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
  CHECK(test::taken(most, read).last == 999998999999000002ULL);
}

TEST_CASE("values of other forms are refused with their line") {
  CHECK_THAT(refused("width=\"6\"", "width=\"20\""),
             ContainsSubstring("a.xml:3: width of <number>"));
  CHECK_THAT(refused("base=\"10\"", "base=\"8\""), ContainsSubstring("expected 10, 16, 36"));
  CHECK_THAT(refused("step=\"1\"", "step=\"0\""), ContainsSubstring("expected 1 to 999999"));
  CHECK_THAT(refused("text=\"FN\"", "text=\"F\xC3\x85\""), ContainsSubstring("printable ASCII"));
  CHECK_THAT(refused("before=\"erased\"", "before=\"blank\""),
             ContainsSubstring("expected erased, placeholder"));
}

namespace {

// One scheme with everything that there is.
const std::string rich_text =
    R"(<serial scheme="fn-serial" first="1" step="1" capacity="900000">
<exclude first="13" last="13"/>
<exclude first="666" last="669"/>
<literal text="FN"/>
<date-code width="4"/>
<class engineering="E" pilot="P" production="N" rework="R" sample="S"/>
<number base="10" width="6"/>
<check kind="luhn" from="4"/>
<crc model="CRC-16/XMODEM" order="le"/>
<place region="flash" address="0x7f00" encoding="ascii" length="20" padding="0x20" crc="yes" before="erased"/>
<place region="flash" address="0x7f20" encoding="packed-be" length="6" first-part="4" last-part="4" second-byte="0x34" before="erased"/>
<place region="flash" address="0x7f30" encoding="binary-le" length="4" before="erased"/>
</serial>)";

std::string refused_rich(const char* from, const char* to) {
  return test::refused(with(rich_text, from, to), read);
}

} // namespace

TEST_CASE("every part, addition and encoding is taken as written") {
  const Scheme scheme = test::taken(rich_text, read);
  REQUIRE(scheme.excluded.count == 2);
  CHECK(scheme.excluded.items[1].last == 669);
  CHECK(scheme.last == 900'005);
  REQUIRE(scheme.parts.count == 5);
  CHECK(scheme.parts.items[2].literal.value.view() == "EPNRS");
  CHECK(scheme.parts.items[4].check.value.kind == format::CheckKind::luhn);
  CHECK(scheme.text_length() == 14);
  CHECK(scheme.crc.value.order == format::ByteOrder::low_first);
  CHECK(scheme.placements[0].padding.value == 0x20);
  CHECK(scheme.placements[0].parts.value.last == 5);
  CHECK(scheme.placements[1].parts.value.first == 4);
  CHECK(scheme.placements[1].second_byte.value == 0x34);
  CHECK_FALSE(scheme.placements[2].parts.present);
  CHECK(format::is_yes(scheme.placements[0].crc));
}

TEST_CASE("a check over what its rule does not know is refused, and what it knows is taken") {
  CHECK_THAT(refused_rich("from=\"4\"", "from=\"1\""),
             ContainsSubstring("a.xml:8: a covered part can give what this check does not know"));
  CHECK_THAT(refused_rich("from=\"4\"", "from=\"5\""),
             ContainsSubstring("found 5, expected 1 to 4"));
  CHECK(refused_rich("kind=\"luhn\" from=\"4\"", "kind=\"mod-37-2\" from=\"1\"").empty());
  CHECK(refused_rich("kind=\"luhn\"", "kind=\"verhoeff\"").empty());
  CHECK_THAT(refused_rich("base=\"10\"", "base=\"16\""), ContainsSubstring("does not know"));
}

TEST_CASE("excluded numbers rise with a gap") {
  CHECK_THAT(refused_rich("first=\"666\"", "first=\"14\""),
             ContainsSubstring("a.xml:3: excluded numbers do not rise with a gap: found 14, "
                               "expected at least 15"));
  CHECK_THAT(refused_rich("last=\"669\"", "last=\"665\""), ContainsSubstring("expected 666 to"));
}

TEST_CASE("an alphabet has every character once and is none that a base has") {
  const auto alphabet = [](const char* text) {
    return with(
        with(scheme_text, "base=\"10\"", ("alphabet=\"" + std::string(text) + "\"").c_str()),
        "capacity=\"999999\"", "capacity=\"60\"");
  };
  CHECK(test::taken(alphabet("0123456789abcdef"), read).parts.items[1].base.value == 16);
  CHECK_THAT(test::refused(alphabet("0120"), read), ContainsSubstring("repeats a character"));
  CHECK_THAT(test::refused(alphabet("0123456789"), read),
             ContainsSubstring("expected base=\"10\""));
}

TEST_CASE("padding, CRC, words of two and packed digits are refused where they do not fit") {
  CHECK_THAT(refused_rich("length=\"20\"", "length=\"16\""),
             ContainsSubstring("there is nothing to pad: found 14 of 14"));
  CHECK_THAT(refused_rich(" padding=\"0x20\"", ""), ContainsSubstring("found 18, expected 14"));
  CHECK_THAT(refused_rich("<crc model=\"CRC-16/XMODEM\" order=\"le\"/>", ""),
             ContainsSubstring("the scheme states no CRC"));
  CHECK_THAT(refused_rich("CRC-16/XMODEM", "CCITT"), ContainsSubstring("the CRC is not known"));
  CHECK_THAT(refused_rich("length=\"6\"", "length=\"7\""), ContainsSubstring("an even length"));
  CHECK_THAT(refused_rich("first-part=\"4\" last-part=\"4\"", "first-part=\"4\" last-part=\"5\""),
             ContainsSubstring("packed digits come in pairs: found 7"));
  CHECK_THAT(refused_rich("packed-be\" length=\"6\" first-part=\"4\" last-part=\"4\"",
                          "packed-be\" length=\"12\" first-part=\"2\" last-part=\"3\""),
             ContainsSubstring("packed digits come in pairs"));
  CHECK_THAT(refused_rich("packed-be\" length=\"6\" first-part=\"4\" last-part=\"4\"",
                          "packed-be\" length=\"2\" first-part=\"1\" last-part=\"1\""),
             ContainsSubstring("packed characters are not all hex digits"));
}

TEST_CASE("a scheme whose places never hold its number is refused") {
  const std::string text = R"(<serial scheme="s" first="0" step="1" capacity="100">
<literal text="FN"/><number base="10" width="2"/>
<place region="flash" address="0x0" encoding="ascii" length="2" first-part="1" last-part="1"
       before="erased"/>
</serial>)";
  CHECK_THAT(test::refused(text, read), ContainsSubstring("no place holds the number"));
  CHECK(
      test::taken(
          with(text, "first-part=\"1\" last-part=\"1\"", "first-part=\"2\" last-part=\"2\""), read)
          .placements.size() == 1);
}

TEST_CASE("a block of addresses becomes its digits and the number behind them") {
  const std::string text = R"(<serial scheme="mac" first="0" step="1" capacity="4096">
<eui bits="48" block="70B3D5ABC"/>
<place region="eeprom" address="0x0" encoding="packed-be" length="6" before="erased"/>
</serial>)";
  const Scheme scheme = test::taken(text, read);
  REQUIRE(scheme.parts.count == 2);
  CHECK(scheme.parts.items[0].literal.value.view() == "70B3D5ABC");
  CHECK(scheme.parts.items[1].width.value == 3);
  CHECK_THAT(test::refused(with(text, "\"4096\"", "\"4097\""), read),
             ContainsSubstring("expected at most 4095, 3 digits")); // the block's end
  CHECK_THAT(test::refused(with(text, "70B3D5ABC", "71B3D5ABC"), read),
             ContainsSubstring("a block of group addresses"));
  CHECK_THAT(test::refused(with(text, "70B3D5ABC", "02B3D5ABC"), read),
             ContainsSubstring("a block of local addresses"));
  CHECK_THAT(test::refused(with(text, "70B3D5ABC", "70b3d5ABC"), read),
             ContainsSubstring("a block is hex digits"));
  CHECK_THAT(test::refused(with(text, "70B3D5ABC", "70B3D5AB"), read),
             ContainsSubstring("6, 7 or 9 digits"));
  unit::UnitBytes bytes;
  REQUIRE(unit::bytes_of(scheme.serials(), scheme.placements[0], 0xDEF, bytes).ok());
  CHECK(slice_of(bytes) == test::unhex("70b3d5abcdef")); // IEEE Std 802, 8.2: the block, then ours
  const std::string wide =
      with(with(text, "bits=\"48\"", "bits=\"64\""), "length=\"6\"", "length=\"8\"");
  const Scheme eui_64 = test::taken(wide, read);
  CHECK(eui_64.parts.items[1].width.value == 7);
  REQUIRE(unit::bytes_of(eui_64.serials(), eui_64.placements[0], 0xDEF, bytes).ok());
  CHECK(slice_of(bytes) == test::unhex("70b3d5abc0000def"));
}
