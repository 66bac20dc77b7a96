// The form of authored files. Rules of the language: W3C, Extensible Markup Language (XML) 1.0,
// fifth edition; the subset of it is ours.
#include <string>

#include "support/catch.h"
#include "xml/document.h"
#include "xml/scan.h"

using namespace cardseal;
using xml::Document;

namespace {

std::string refusal(std::string_view text) {
  const Try<Document> read = Document::parse(text, "a.xml");
  return read ? "read" : describe(read.error());
}

std::string code_of(std::string_view text) {
  const Try<Document> read = Document::parse(text, "a.xml");
  return read ? "read" : read.error().code;
}

std::string nested(std::size_t levels) {
  std::string text;
  for (std::size_t i = 0; i < levels; ++i) {
    text += "<a>";
  }
  for (std::size_t i = 0; i < levels; ++i) {
    text += "</a>";
  }
  return text;
}

} // namespace

TEST_CASE("a second root is refused with its line and the first one's") {
  CHECK(refusal("<release/>\n\n<release/>\n") ==
        "a.xml:3:1: a second root element stands in the file: found <release>, expected nothing "
        "after </release>, opened in line 1 (keep one root element a file)");
}

TEST_CASE("a DOCTYPE is refused with its line, and with it every entity") {
  CHECK(refusal("<?xml version=\"1.0\"?>\n<!DOCTYPE release [<!ENTITY x \"y\">]>\n<release/>") ==
        "a.xml:2:1: DOCTYPE and other declarations are not read: found '<!DOCTYPE release [<!ENT', "
        "expected the root element (delete the declaration; entities are not needed)");
}

TEST_CASE("a NUL is refused with its line and column, wherever it stands") {
  CHECK(
      refusal(std::string_view("<release\n a=\"x\0y\"/>", 19)) ==
      "a.xml:2:6: a NUL byte stands in the file: found byte 0x00, expected text in UTF-8 (save the "
      "file again as UTF-8 text)");
  CHECK(code_of(std::string_view("<a/>\0<b/>", 9)) == "xml-nul");
}

TEST_CASE("what this subset of xml leaves out is refused, each with its own code") {
  struct Case {
    const char* code;
    const char* text;
  };
  const Case cases[] = {
      {"xml-utf8", "<a b=\"\xC0\xAF\"/>"},
      {"xml-character", "<a b=\"\x01\"/>"},
      {"xml-character", "<a b=\"\xE2\x80\xAE\"/>"},
      {"xml-character", "<a><!-- \xE2\x80\x8B --></a>"},
      {"xml-declaration", "<?xml version=\"1.1\"?><a/>"},
      {"xml-declaration", "<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><a/>"},
      {"xml-processing-instruction", "<?xml-stylesheet href=\"x\"?><a/>"},
      {"xml-processing-instruction", " <?xml version=\"1.0\"?><a/>"},
      {"xml-processing-instruction", "<a/><?x?>"},
      {"xml-cdata", "<a><![CDATA[x]]></a>"},
      {"xml-doctype", "<!ELEMENT a ANY><a/>"},
      {"xml-text", "junk<a/>"},
      {"xml-text", "<a/>junk"},
      {"xml-text", "<a>3300</a>"},
      {"xml-text", "<a>&amp;</a>"},
      {"xml-text", "<a>\n]]></a>"},
      {"xml-entity", "<a b=\"&nbsp;\"/>"},
      {"xml-entity", "<a b=\"a & b\"/>"},
      {"xml-entity", "<a b=\"&#0;\"/>"},
      {"xml-entity", "<a b=\"&#10;\"/>"},
      {"xml-entity", "<a b=\"&#x1F;\"/>"},
      {"xml-entity", "<a b=\"&#xD800;\"/>"},
      {"xml-entity", "<a b=\"&#x110000;\"/>"},
      {"xml-entity", "<a b=\"&#4294967361;\"/>"},
      {"xml-entity", "<a b=\"&#x202E;\"/>"},
      {"xml-entity", "<a b=\"&#;\"/>"},
      {"xml-no-root", ""},
      {"xml-no-root", "<!-- nothing -->"},
      {"xml-form", "<a>"},
      {"xml-form", "<a></b>"},
      {"xml-form", "</a>"},
      {"xml-form", "<a"},
      {"xml-form", "<a "},
      {"xml-form", "<a/"},
      {"xml-form", "< a/>"},
      {"xml-form", "<1/>"},
      {"xml-form", "<a/ >"},
      {"xml-form", "<a b/>"},
      {"xml-form", "<a b=1/>"},
      {"xml-form", "<a b=\"1\"c=\"2\"/>"},
      {"xml-form", "<a b=\"1\" b=\"1\"/>"},
      {"xml-form", "<a b=\"1/>"},
      {"xml-form", "<a b=\"<\"/>"},
      {"xml-form", "<a b=\"1\n2\"/>"},
      {"xml-form", "<a b=\"1\t2\"/>"},
      {"xml-form", "<a></a b=\"1\">"},
      {"xml-form", "<a><!-- a -- b --></a>"},
      {"xml-form", "<a/><!-- never closed ->"},
  };
  for (const Case& one : cases) {
    INFO(one.text);
    CHECK(code_of(one.text) == one.code);
  }
}

TEST_CASE("what the subset holds is read") {
  for (const char* good :
       {"<a/>", "\xEF\xBB\xBF<?xml version=\"1.0\" encoding=\"UTF-8\"?>\r\n<a>\r\n</a>\r\n",
        "<!-- before --><a b = '\"' ><!-- in \xC3\xA5 --></a ><!-- after -->",
        "<a b=\"&lt;&gt;&amp;&quot;&apos;&#65;&#x42;\"/>", "<a b=''/>"}) {
    INFO(good);
    CHECK(refusal(good) == "read");
  }
}

TEST_CASE("depth and size have caps") {
  CHECK(code_of(nested(xml::max_depth)) == "read");
  CHECK(code_of(nested(xml::max_depth + 1)) == "xml-depth");
  std::string large = "<a/>";
  large.resize(xml::max_file_bytes, ' ');
  CHECK(code_of(large) == "read");
  large += ' ';
  CHECK(code_of(large) == "xml-size");
}

TEST_CASE("no prefix of a file is read as if it were whole, and none crashes") {
  const std::string text = "<?xml version=\"1.0\"?><a b=\"&#x41;\"><!-- c --><d e='f'/></a>";
  for (std::size_t length = 0; length < text.size(); ++length) {
    INFO(length);
    CHECK(code_of(text.substr(0, length)) != "read");
  }
  CHECK(code_of(text) == "read");
}

TEST_CASE("a message quotes what it found without its controls") {
  CHECK_THAT(refusal("<a b=\"&\x1B[2J\"/>"), ContainsSubstring("\\u{1b}"));
}

TEST_CASE("a file is read from its place, and one that is missing names itself") {
  const io::Path there = io::Path(CARDSEAL_SOURCE_DIR) / "templates/author/release.xml";
  const Try<Document> read = Document::read(io::real_system(), there);
  REQUIRE(read);
  CHECK(read->file() == there.string());
  const Try<Document> missing = Document::read(io::real_system(), "no-such-folder/release.xml");
  REQUIRE_FALSE(missing);
  CHECK(missing.error().kind == ErrorKind::no_input);
  CHECK_THAT(describe(missing.error()), ContainsSubstring("no-such-folder/release.xml"));
}
