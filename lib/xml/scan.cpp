#include "xml/scan.h"

#include <algorithm>
#include <vector>

#include "base/utf8.h"
#include "xml/join.h"

namespace cardseal::xml {

namespace {

bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}

bool is_name_tail(char c) {
  return is_letter(c) || (c >= '0' && c <= '9') || c == '-' || c == '.' || c == ':';
}

struct OpenTag {
  std::string_view name;
  std::size_t at;
};

// Every step moves `pos_` past what it names, or leaves an error and answers false.
class Scanner {
public:
  Scanner(std::string_view text, const std::string& file) : text_(text), file_(file) {}

  Try<void> run() {
    if (!characters() || !declaration() || !content() || !ended()) {
      return Unexpected(std::move(error_));
    }
    return {};
  }

private:
  std::string_view rest() const { return text_.substr(pos_); }
  bool at_end() const { return pos_ >= text_.size(); }
  bool looking_at(std::string_view what) const { return rest().starts_with(what); }

  std::uint32_t line_of(std::size_t at) const {
    return static_cast<std::uint32_t>(1 + std::count(text_.begin(), text_.begin() + at_(at), '\n'));
  }
  static std::ptrdiff_t at_(std::size_t at) { return static_cast<std::ptrdiff_t>(at); }

  bool fail(std::size_t at, std::string code, std::string what, std::string found,
            std::string expected, std::string hint) {
    const std::size_t line_end = text_.substr(0, at).rfind('\n');
    const std::size_t line_start = line_end == std::string_view::npos ? 0 : line_end + 1;
    error_.kind = ErrorKind::bad_data;
    error_.code = std::move(code);
    error_.what = std::move(what);
    error_.place = {file_, line_of(at), static_cast<std::uint32_t>(at - line_start + 1), {}};
    error_.found = std::move(found);
    error_.expected = std::move(expected);
    error_.hint = std::move(hint);
    return false;
  }

  bool form(std::string what, std::string expected, std::string hint) {
    return fail(pos_, "xml-form", std::move(what), excerpt(), std::move(expected), std::move(hint));
  }

  // What stands here, short enough for a message.
  std::string excerpt() const {
    if (at_end()) {
      return "the end of the file";
    }
    std::string_view seen = rest();
    seen = seen.substr(0, seen.find_first_of("\r\n"));
    if (seen.empty()) {
      return "the end of the line";
    }
    std::size_t length = 0;
    while (length < seen.size() && length < 24) {
      length += next_utf8(seen.substr(length)).length;
    }
    return joined({"'", seen.substr(0, length), "'"});
  }

  bool characters() {
    for (std::size_t at = 0; at < text_.size();) {
      const char c = text_[at];
      if (c == '\0') {
        return fail(at, "xml-nul", "a NUL byte stands in the file", "byte 0x00", "text in UTF-8",
                    "save the file again as UTF-8 text");
      }
      const Utf8Char next = next_utf8(text_.substr(at));
      if (next.length == 0) {
        return fail(at, "xml-utf8", "the file is not well-formed UTF-8",
                    std::string(text_.substr(at, 1)), "text in UTF-8",
                    "save the file again as UTF-8 text");
      }
      if (!is_blank(c) && !is_harmless(next.code)) {
        return fail(at, "xml-character", "a control or hidden character stands in the file",
                    std::string(text_.substr(at, next.length)), "characters that can be seen",
                    "delete the character and type the text again");
      }
      at += next.length;
    }
    return true;
  }

  bool declaration() {
    constexpr std::string_view plain[] = {
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>", "<?xml version=\"1.0\" encoding=\"utf-8\"?>",
        "<?xml version='1.0' encoding='UTF-8'?>", "<?xml version='1.0' encoding='utf-8'?>",
        "<?xml version=\"1.0\"?>"};
    if (!looking_at("<?xml") || (rest().size() > 5 && !is_blank(rest()[5]))) {
      return true; // none, or a processing instruction that content() refuses
    }
    for (const std::string_view one : plain) {
      if (looking_at(one)) {
        pos_ += one.size();
        return true;
      }
    }
    const std::size_t end = rest().find("?>");
    return fail(pos_, "xml-declaration", "the xml declaration is not one that is read",
                end == std::string_view::npos ? excerpt() : std::string(rest().substr(0, end + 2)),
                std::string(plain[0]), "write it exactly so, or leave it out");
  }

  bool content() {
    while (!at_end()) {
      if (is_blank(text_[pos_])) {
        ++pos_;
      } else if (text_[pos_] != '<') {
        return fail(pos_, "xml-text", "text stands outside a tag", excerpt(),
                    "tags, comments and white space only",
                    "values stand in attributes; put remarks into <!-- comments -->");
      } else if (!markup()) {
        return false;
      }
    }
    return true;
  }

  bool ended() {
    if (!open_.empty()) {
      return fail(open_.back().at, "xml-form",
                  joined({"element ", tag(open_.back().name), " is never closed"}), {},
                  joined({"</", open_.back().name, ">"}), "add the closing tag");
    }
    if (root_.name.empty()) {
      return fail(text_.size(), "xml-no-root", "the file holds no element", {}, "one root element",
                  "start from a template of templates/author");
    }
    return true;
  }

  bool markup() {
    if (looking_at("<!--")) {
      return comment();
    }
    if (looking_at("<![CDATA[")) {
      return fail(pos_, "xml-cdata", "CDATA sections are not read", excerpt(), "an attribute",
                  "values stand in attributes");
    }
    if (looking_at("<!")) {
      return fail(pos_, "xml-doctype", "DOCTYPE and other declarations are not read", excerpt(),
                  "the root element", "delete the declaration; entities are not needed");
    }
    if (looking_at("<?")) {
      return fail(pos_, "xml-processing-instruction", "processing instructions are not read",
                  excerpt(), "elements and comments", "delete it");
    }
    return looking_at("</") ? close_tag() : open_tag();
  }

  bool comment() {
    const std::size_t start = pos_;
    const std::size_t dashes = text_.find("--", pos_ + 4);
    if (dashes == std::string_view::npos) {
      return fail(start, "xml-form", "the comment is never closed", {}, "-->", "close it with -->");
    }
    pos_ = dashes;
    if (!looking_at("-->")) {
      return form("two dashes stand inside a comment", "-->", "use one dash there");
    }
    pos_ += 3;
    return true;
  }

  bool name(std::string_view& out) {
    const std::size_t start = pos_;
    if (at_end() || !is_letter(text_[pos_])) {
      return form("a name is missing", "a name that starts with a letter",
                  "a '<' starts a tag only; write &lt; in a value");
    }
    while (!at_end() && is_name_tail(text_[pos_])) {
      ++pos_;
    }
    out = text_.substr(start, pos_ - start);
    return true;
  }

  bool blanks() {
    const std::size_t start = pos_;
    while (!at_end() && is_blank(text_[pos_])) {
      ++pos_;
    }
    return pos_ != start;
  }

  bool open_tag() {
    OpenTag opened{{}, pos_};
    ++pos_;
    if (!name(opened.name) || !may_open(opened) || !attributes()) {
      return false;
    }
    if (root_.name.empty()) {
      root_ = opened;
    }
    if (looking_at("/>")) {
      pos_ += 2;
      return true;
    }
    if (!looking_at(">")) {
      return form(joined({"the tag ", tag(opened.name), " is not closed"}), "'>' or '/>'",
                  "close the tag, or correct the attribute in front of it");
    }
    ++pos_;
    open_.push_back(opened);
    return true;
  }

  bool may_open(const OpenTag& opened) {
    if (open_.empty() && !root_.name.empty()) {
      return fail(opened.at, "xml-second-root", "a second root element stands in the file",
                  tag(opened.name),
                  joined({"nothing after </", root_.name, ">, opened in line ",
                          std::to_string(line_of(root_.at))}),
                  "keep one root element a file");
    }
    if (open_.size() >= max_depth) {
      return fail(opened.at, "xml-depth", "elements are nested too deep",
                  joined({std::to_string(open_.size() + 1), " levels"}),
                  joined({"at most ", std::to_string(max_depth)}),
                  "close the elements in front of it");
    }
    return true;
  }

  bool close_tag() {
    const std::size_t start = pos_;
    pos_ += 2;
    std::string_view closed;
    if (!name(closed)) {
      return false;
    }
    if (open_.empty() || open_.back().name != closed) {
      const std::string wanted = open_.empty()
                                     ? "no closing tag"
                                     : joined({"</", open_.back().name, "> for the tag of line ",
                                               std::to_string(line_of(open_.back().at))});
      return fail(start, "xml-form", "a closing tag closes nothing", joined({"</", closed, ">"}),
                  wanted, "close elements in reverse order");
    }
    blanks();
    if (!looking_at(">")) {
      return form("the closing tag is not closed", "'>'", "a closing tag has no attributes");
    }
    ++pos_;
    open_.pop_back();
    return true;
  }

  bool attributes() {
    std::vector<std::string_view> seen;
    while (blanks() && !at_end() && text_[pos_] != '>' && text_[pos_] != '/') {
      const std::size_t start = pos_;
      std::string_view key;
      if (!name(key)) {
        return false;
      }
      if (std::find(seen.begin(), seen.end(), key) != seen.end()) {
        return fail(start, "xml-form", "an attribute stands twice in one tag", std::string(key),
                    "each attribute once", "delete one of the two");
      }
      seen.push_back(key);
      blanks();
      if (!looking_at("=")) {
        return form(joined({"the attribute ", key, " has no value"}), "'='",
                    joined({"write ", key, "=\"value\""}));
      }
      ++pos_;
      blanks();
      if (!value(key)) {
        return false;
      }
    }
    return true;
  }

  bool value(std::string_view key) {
    if (!looking_at("\"") && !looking_at("'")) {
      return form(joined({"the value of ", key, " is not quoted"}), "'\"'",
                  joined({"write ", key, "=\"value\""}));
    }
    const std::size_t start = pos_;
    const char quote = text_[pos_++];
    while (!at_end() && text_[pos_] != quote) {
      const char c = text_[pos_];
      if (c == '\n' || c == '\r' || c == '\t' || c == '<') {
        return fail(start, "xml-form", joined({"the value of ", key, " does not end"}),
                    c == '<' ? "'<' inside it" : "a tab or the end of the line inside it",
                    "a closing quote on the same line", "close the quote; write &lt; for '<'");
      }
      if (c == '&') {
        if (!reference()) {
          return false;
        }
      } else {
        ++pos_;
      }
    }
    if (at_end()) {
      return fail(start, "xml-form", joined({"the value of ", key, " does not end"}),
                  "the end of the file", "a closing quote", "close the quote");
    }
    ++pos_;
    return true;
  }

  bool reference() {
    const std::size_t end = rest().find(';');
    const std::string_view body =
        end == std::string_view::npos ? std::string_view{} : rest().substr(1, end - 1);
    constexpr std::string_view known[] = {"lt", "gt", "amp", "quot", "apos"};
    const bool ok = body.starts_with('#')
                        ? is_plain_character(body.substr(1))
                        : std::find(std::begin(known), std::end(known), body) != std::end(known);
    if (!ok) {
      return fail(pos_, "xml-entity", "a reference that is not read", excerpt(),
                  "&lt; &gt; &amp; &quot; &apos; or a reference to a character that can be seen",
                  "write &amp; for '&', or the character itself");
    }
    pos_ += end + 1;
    return true;
  }

  // The digits of a character reference: of a character that could as well stand here itself.
  static bool is_plain_character(std::string_view digits) {
    const bool hex = digits.starts_with('x');
    digits.remove_prefix(hex ? 1 : 0);
    if (digits.empty() || digits.size() > 7) {
      return false;
    }
    char32_t code = 0;
    for (const char c : digits) {
      const char lower = static_cast<char>(hex && c >= 'A' && c <= 'F' ? c - 'A' + 'a' : c);
      if (lower >= '0' && lower <= '9') {
        code = code * (hex ? 16 : 10) + static_cast<char32_t>(lower - '0');
      } else if (hex && lower >= 'a' && lower <= 'f') {
        code = code * 16 + static_cast<char32_t>(lower - 'a' + 10);
      } else {
        return false;
      }
    }
    const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
    return code <= 0x10FFFF && !surrogate && is_harmless(code);
  }

  std::string_view text_;
  const std::string& file_;
  std::size_t pos_ = 0;
  std::vector<OpenTag> open_;
  OpenTag root_{{}, 0};
  Error error_;
};

} // namespace

Try<void> scan(std::string_view text, const std::string& file) {
  return Scanner(text, file).run();
}

} // namespace cardseal::xml
