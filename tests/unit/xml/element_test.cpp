// Exact reading: known elements, known attributes, exact counts, strict values.
#include <string>

#include "support/catch.h"
#include "xml/element.h"

using namespace cardseal;
using xml::Document;
using xml::Element;
using xml::Reader;

namespace {

enum class Colour : std::uint8_t { red, green };

// A small kind of file that uses every getter.
xml::Errors read_thing(std::string_view text) {
  const Try<Document> document = Document::parse(text, "thing.xml");
  REQUIRE(document);
  Reader reader(*document);
  const Element root = reader.root("thing");
  root.id("id", 8);
  const Element supply = root.one("supply");
  supply.uint("millivolts", 0, 5500);
  if (supply.has("note")) {
    supply.text("note", 1, 10);
  }
  root.maybe("extra");
  for (const Element& slot : root.many("slot", 1, 3)) {
    slot.uint("number", 1, 4294967295U);
  }
  root.one_of({"serial", "no-serial"});
  return reader.finish();
}

std::string all(const xml::Errors& errors) {
  std::string out;
  for (const Error& error : errors) {
    out += describe(error) + "\n";
  }
  return out;
}

std::string thing(std::string_view supply, std::string_view slot = "<slot number=\"1\"/>") {
  return "<thing id=\"one\">\n  " + std::string(supply) + "\n  " + std::string(slot) +
         "\n  <no-serial/>\n</thing>\n";
}

// One attribute read by `get`; gives what was refused, or nothing.
template <class Get>
std::string value_refusal(const std::string& value, Get get) {
  const Try<Document> document = Document::parse("<v a=\"" + value + "\"/>", "v.xml");
  REQUIRE(document);
  Reader reader(*document);
  get(reader.root("v"));
  return all(reader.finish());
}

} // namespace

TEST_CASE("a file that is exactly as asked has no errors") {
  CHECK(all(read_thing(thing("<supply millivolts=\"3300\"/>"))).empty());
  CHECK(all(read_thing(thing("<supply millivolts=\"0\" note=\"low\"/><extra/>"))).empty());
}

TEST_CASE("an unknown element is refused with its line and the allowed names") {
  CHECK(all(read_thing(thing("<supply millivolts=\"3300\"/>\n  <suply/>"))) ==
        "thing.xml:3: <thing> holds no such element: found <suply>, expected supply, extra, slot, "
        "serial, no-serial (correct its spelling, or delete it)\n");
}

TEST_CASE("an unknown attribute is refused with its line and the allowed names") {
  CHECK(all(read_thing(thing("<supply\n    millivolts=\"3300\"\n    milivolts=\"5000\"/>"))) ==
        "thing.xml:4: <supply> has no such attribute: found milivolts, expected millivolts, note "
        "(correct its spelling, or delete it)\n");
}

TEST_CASE("a number with letters behind it is refused") {
  CHECK(all(read_thing(thing("<supply millivolts=\"12abc\"/>"))) ==
        "thing.xml:2: millivolts of <supply> is not a number: found \"12abc\", expected 0 to 5500 "
        "(write digits only: no sign, unit, point or leading 0)\n");
}

TEST_CASE("a negative number is refused") {
  CHECK(all(read_thing(thing("<supply millivolts=\"-1\"/>"))) ==
        "thing.xml:2: millivolts of <supply> is not a number: found \"-1\", expected 0 to 5500 "
        "(write digits only: no sign, unit, point or leading 0)\n");
}

TEST_CASE("a number past 2^32 is refused and never wraps") {
  const std::string supply = "<supply millivolts=\"3300\"/>";
  CHECK(all(read_thing(thing(supply, "<slot number=\"4294967297\"/>"))) ==
        "thing.xml:3: number of <slot> is out of range: found \"4294967297\", expected 1 to "
        "4294967295 (choose a value within the range)\n");
  CHECK_THAT(all(read_thing(thing(supply, "<slot number=\"18446744073709551617\"/>"))),
             ContainsSubstring("is out of range"));
}

TEST_CASE("everything wrong is reported at once, in order of lines") {
  const xml::Errors errors = read_thing("<thing id=\"One\" color=\"red\">\n<slot number=\"x\"/>\n"
                                        "<slot/>\n<supply millivolts=\"9999\"/>\n<serial/>\n"
                                        "<no-serial/>\n<what><ever/></what></thing>");
  std::string codes;
  std::uint32_t last = 0;
  for (const Error& error : errors) {
    codes += error.code + " ";
    CHECK(error.place.line >= last);
    last = error.place.line;
    CHECK_FALSE(error.hint.empty());
  }
  CHECK(codes == "xml-value xml-unknown-attribute xml-value xml-missing-attribute xml-value "
                 "xml-order xml-repeated-element xml-unknown-element ");
}

TEST_CASE("counts of elements are exact") {
  CHECK(all(read_thing("<thing id=\"a\">\n<slot number=\"1\"/></thing>")) ==
        "thing.xml:1: <thing> lacks an element: found none, expected one <supply> (add it; "
        "templates/author shows where it stands)\n"
        "thing.xml:1: <thing> lacks an element: found none, expected one <serial> or <no-serial> "
        "(add it; templates/author shows where it stands)\n");
  const std::string supply = "<supply millivolts=\"1\"/>";
  CHECK_THAT(all(read_thing(thing(supply + supply))),
             ContainsSubstring("found <supply>, expected one only, as in line 2"));
  const std::string slot = "<slot number=\"1\"/>";
  CHECK_THAT(all(read_thing(thing(supply, slot + slot + slot + slot))),
             ContainsSubstring("wrong number of <slot>: found 4, expected 1 to 3"));
  CHECK_THAT(all(read_thing(thing(supply, ""))), ContainsSubstring("found 0, expected 1 to 3"));
}

TEST_CASE("a file of another kind is refused by its root alone") {
  CHECK(all(read_thing("<board id=\"x\"><y/></board>")) ==
        "thing.xml:1: the file is of another kind: found <board>, expected <thing> (name a file "
        "that holds <thing>)\n");
}

TEST_CASE("each type of value has one strict form") {
  const auto small = [](const Element& v) { v.uint("a", 5, 100); };
  for (const char* bad : {"", "4", "101", "007", "+7", " 7", "7 ", "7.0", "0x7", "1e1", "7mV"}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, small).empty());
  }
  CHECK(value_refusal("100", small).empty());

  const auto hex = [](const Element& v) { CHECK(v.hex("a", 0, 0xFFFFFFFF) == 0x7FF0); };
  CHECK(value_refusal("0x7ff0", hex).empty());
  CHECK(value_refusal("0x00007FF0", hex).empty());
  const auto hex_any = [](const Element& v) { v.hex("a", 0, 0xFFFFFFFF); };
  for (const char* bad : {"7ff0", "0X7ff0", "0x", "0xg", "0x100000000", "0x11111111111111111"}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, hex_any).empty());
  }
  CHECK_THAT(value_refusal("0x100000000", hex_any),
             ContainsSubstring("expected 0x0 to 0xffffffff"));

  const auto size = [](const Element& v) { CHECK(v.size("a", 1, 65536) == 32768); };
  CHECK(value_refusal("32768", size).empty());
  CHECK(value_refusal("0x8000", size).empty());

  const auto yes = [](const Element& v) { v.yes_no("a"); };
  CHECK(value_refusal("yes", yes).empty());
  CHECK_THAT(value_refusal("true", yes), ContainsSubstring("found \"true\", expected no, yes"));

  const auto id = [](const Element& v) { v.id("a", 4); };
  CHECK(value_refusal("a-9z", id).empty());
  for (const char* bad : {"", "A", "9a", "-a", "a_b", "abcde", "a b", "\xC3\xA5"}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, id).empty());
  }

  const auto text = [](const Element& v) { v.text("a", 1, 8); };
  CHECK(value_refusal("Bl\xC3\xA5  1", text).empty());
  for (const char* bad : {"", "123456789", "a&quot;b", "a\\b", " a", "a "}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, text).empty());
  }

  const auto display = [](const Element& v) { v.display("a", 1, 8); };
  CHECK(value_refusal("FROST 1", display).empty());
  CHECK_FALSE(value_refusal("Bl\xC3\xA5", display).empty());

  const auto plain = [](const Element& v) { v.plain("a", 1, 8, "ABC"); };
  CHECK(value_refusal("CAB", plain).empty());
  CHECK_THAT(value_refusal("CAb", plain), ContainsSubstring("expected only ABC"));

  const auto path = [](const Element& v) { v.path("a"); };
  CHECK(value_refusal("../profiles/a.xml", path).empty());
  for (const char* bad : {"", "/etc/passwd", "a\\b", "a//b", "./a", "a/"}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, path).empty());
  }

  const auto sha = [](const Element& v) { v.sha256("a"); };
  const std::string digits(64, 'a');
  CHECK(value_refusal(digits, sha).empty());
  CHECK_FALSE(value_refusal(digits + "aa", sha).empty());
  CHECK_FALSE(value_refusal("sha256:" + digits, sha).empty());
  CHECK_FALSE(value_refusal(std::string(64, 'A'), sha).empty());

  const auto bytes = [](const Element& v) {
    CHECK(v.bytes("a", 3, 3) == std::vector<std::uint8_t>{0x1E, 0x95, 0x0F});
  };
  CHECK(value_refusal("1e950F", bytes).empty());
  const auto any_bytes = [](const Element& v) { v.bytes("a", 1, 4); };
  for (const char* bad : {"", "1", "1e9", "0x1e", "1e 95", "1e950f0000"}) {
    INFO(bad);
    CHECK_FALSE(value_refusal(bad, any_bytes).empty());
  }
}

TEST_CASE("a word gives its value, and another one the list of words") {
  constexpr xml::Word<Colour> words[] = {{"red", Colour::red}, {"green", Colour::green}};
  const auto colour = [&](const Element& v) { CHECK(v.choice("a", words) == Colour::green); };
  CHECK(value_refusal("green", colour).empty());
  const auto any = [&](const Element& v) { v.choice("a", words); };
  CHECK_THAT(value_refusal("Green", any),
             ContainsSubstring("found \"Green\", expected red, green"));
}

TEST_CASE("references in values are resolved once") {
  const auto text = [](const Element& v) { CHECK(v.text("a", 0, 20) == "&lt;A<"); };
  CHECK(value_refusal("&amp;lt;&#x41;&lt;", text).empty());
}
