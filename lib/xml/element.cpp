// The values of attributes: one strict form a type, nothing skipped, nothing guessed.
#include "xml/element.h"

#include <tinyxml2.h>

#include <algorithm>
#include <limits>
#include <optional>

#include "base/number.h"
#include "base/utf8.h"
#include "xml/join.h"

namespace cardseal::xml {

namespace {

constexpr unsigned form_decimal = 1;
constexpr unsigned form_hex = 2;
constexpr std::uint64_t too_large = std::numeric_limits<std::uint64_t>::max();

std::string lowered(std::string_view text) {
  std::string out(text);
  for (char& c : out) {
    c = static_cast<char>(c >= 'A' && c <= 'F' ? c - 'A' + 'a' : c);
  }
  return out;
}

bool all_of(std::string_view text, std::string_view characters) {
  return !text.empty() && text.find_first_not_of(characters) == std::string_view::npos;
}

// No value: another form. A number beyond 19 decimal or 16 hex digits counts as too large.
std::optional<std::uint64_t> parse_number(std::string_view text, unsigned forms) {
  std::uint64_t value = 0;
  if ((forms & form_hex) != 0 && text.starts_with("0x")) {
    const std::string digits = lowered(text.substr(2));
    if (!all_of(digits, "0123456789abcdef")) {
      return std::nullopt;
    }
    return parse_hex(digits, value) ? value : too_large;
  }
  if ((forms & form_decimal) == 0 || !all_of(text, "0123456789") ||
      (text.size() > 1 && text[0] == '0')) {
    return std::nullopt;
  }
  return parse_uint(text, value) ? value : too_large;
}

std::string spelled_hex(std::uint64_t value) {
  char digits[16];
  std::size_t width = 1;
  while (width < 16 && (value >> (4 * width)) != 0) {
    ++width;
  }
  return joined({"0x", {digits, spell_hex(value, width, digits)}});
}

std::string range(std::uint64_t min, std::uint64_t max, unsigned forms) {
  if (forms == form_hex) {
    return joined({spelled_hex(min), " to ", spelled_hex(max)});
  }
  return joined({std::to_string(min), " to ", std::to_string(max)});
}

std::string length_of(std::size_t min, std::size_t max) {
  return min == max ? std::to_string(min) : range(min, max, form_decimal);
}

bool is_lower(char c) {
  return c >= 'a' && c <= 'z';
}

bool is_id(std::string_view text, std::size_t max_length) {
  return text.size() <= max_length && !text.empty() && is_lower(text[0]) &&
         all_of(text, "abcdefghijklmnopqrstuvwxyz0123456789-");
}

// What a quoted value of a sealed text may hold (lib/format/SPEC.md).
bool is_quotable(std::string_view text) {
  while (!text.empty()) {
    const Utf8Char next = next_utf8(text);
    if (next.length == 0 || !is_harmless(next.code) || next.code == '"' || next.code == '\\') {
      return false;
    }
    text.remove_prefix(next.length);
  }
  return true;
}

bool is_relative_path(std::string_view path) {
  if (path.empty() || path.size() > 240 || path.find('\\') != std::string_view::npos ||
      !is_quotable(path)) {
    return false;
  }
  const std::string framed = joined({"/", path, "/"});
  return framed.find("//") == std::string::npos && framed.find("/./") == std::string::npos;
}

} // namespace

std::string_view Element::name() const {
  return node_ == nullptr ? "" : node_->Name();
}

std::uint32_t Element::line() const {
  return node_ == nullptr ? 0 : static_cast<std::uint32_t>(node_->GetLineNum());
}

Place Element::place() const {
  return {reader_->document_.file(), line(), 0, {}};
}

Place Element::place_of(std::string_view attribute) const {
  Place out = place();
  const tinyxml2::XMLAttribute* found =
      node_ == nullptr ? nullptr : node_->FindAttribute(std::string(attribute).c_str());
  if (found != nullptr) {
    out.line = static_cast<std::uint32_t>(found->GetLineNum());
  }
  return out;
}

void Element::add(std::string code, Place place, std::string what, std::string found,
                  std::string expected, std::string hint) const {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = std::move(code);
  error.what = std::move(what);
  error.place = std::move(place);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  reader_->errors_.push_back(std::move(error));
  reader_->asked_[node_].faulty = true;
}

bool Element::sound() const {
  return node_ != nullptr && !reader_->asked_[node_].faulty;
}

void Element::refuse(std::string_view attribute, std::string what, std::string found,
                     std::string expected, std::string hint) const {
  if (node_ != nullptr) {
    add("xml-value", place_of(attribute), std::move(what), std::move(found), std::move(expected),
        std::move(hint));
  }
}

void Element::bad(std::string_view attribute, std::string_view fault, std::string expected,
                  std::string hint) const {
  refuse(attribute, joined({attribute, " of ", tag(name()), " ", fault}), quoted(raw(attribute)),
         std::move(expected), std::move(hint));
}

bool Element::has(std::string_view attribute) const {
  if (node_ == nullptr) {
    return false;
  }
  auto& known = reader_->asked_[node_].attributes;
  if (std::find(known.begin(), known.end(), attribute) == known.end()) {
    known.emplace_back(attribute);
  }
  return node_->FindAttribute(std::string(attribute).c_str()) != nullptr;
}

// Null when the element or the attribute is absent; the latter was reported.
const char* Element::take(std::string_view attribute) const {
  if (node_ == nullptr) {
    return nullptr;
  }
  if (!has(attribute)) {
    add("xml-missing-attribute", place(), joined({tag(name()), " lacks an attribute"}), "none",
        std::string(attribute), joined({"add ", attribute, "=\"...\""}));
    return nullptr;
  }
  return node_->Attribute(std::string(attribute).c_str());
}

std::string_view Element::raw(std::string_view attribute) const {
  const char* value = take(attribute);
  return value == nullptr ? std::string_view{} : std::string_view{value};
}

std::uint64_t Element::number(std::string_view attribute, std::uint64_t min, std::uint64_t max,
                              unsigned forms) const {
  const char* text = take(attribute);
  if (text == nullptr) {
    return min;
  }
  const std::optional<std::uint64_t> value = parse_number(text, forms);
  if (!value) {
    const bool hex_only = forms == form_hex;
    bad(attribute, "is not a number", range(min, max, forms),
        hex_only ? "write 0x and hex digits"
                 : "write digits only: no sign, unit, point or leading 0");
    return min;
  }
  if (*value < min || *value > max) {
    bad(attribute, "is out of range", range(min, max, forms), "choose a value within the range");
    return min;
  }
  return *value;
}

std::uint64_t Element::uint64(std::string_view attribute, std::uint64_t min,
                              std::uint64_t max) const {
  return number(attribute, min, max, form_decimal);
}

std::uint32_t Element::uint(std::string_view attribute, std::uint32_t min,
                            std::uint32_t max) const {
  return static_cast<std::uint32_t>(number(attribute, min, max, form_decimal));
}

std::uint32_t Element::hex(std::string_view attribute, std::uint32_t min, std::uint32_t max) const {
  return static_cast<std::uint32_t>(number(attribute, min, max, form_hex));
}

std::uint32_t Element::size(std::string_view attribute, std::uint32_t min,
                            std::uint32_t max) const {
  return static_cast<std::uint32_t>(number(attribute, min, max, form_decimal | form_hex));
}

std::size_t Element::choose(std::string_view attribute,
                            std::span<const std::string_view> words) const {
  const char* text = take(attribute);
  if (text == nullptr) {
    return 0;
  }
  const auto word = std::find(words.begin(), words.end(), std::string_view(text));
  if (word != words.end()) {
    return static_cast<std::size_t>(word - words.begin());
  }
  std::string expected;
  for (const std::string_view one : words) {
    expected += joined({expected.empty() ? "" : ", ", one});
  }
  bad(attribute, "is not one of its words", expected, "choose one of them, in lower case as shown");
  return 0;
}

bool Element::yes_no(std::string_view attribute) const {
  constexpr Word<bool> words[] = {{"no", false}, {"yes", true}};
  return choice(attribute, words);
}

std::string Element::id(std::string_view attribute, std::size_t max_length) const {
  const char* text = take(attribute);
  if (text != nullptr && !is_id(text, max_length)) {
    bad(attribute, "is not an id",
        joined({"a lower-case letter, then lower-case letters, digits and '-', at most ",
                std::to_string(max_length)}),
        "rename it");
    return {};
  }
  return text == nullptr ? "" : text;
}

std::string Element::text(std::string_view attribute, std::size_t min, std::size_t max) const {
  const char* value = take(attribute);
  if (value == nullptr) {
    return {};
  }
  const std::string_view view = value;
  if (view.size() < min || view.size() > max) {
    bad(attribute, "has a wrong length", joined({length_of(min, max), " bytes"}),
        view.size() < min ? "write more" : "shorten it");
    return {};
  }
  if (!is_quotable(view) || view.starts_with(' ') || view.ends_with(' ')) {
    bad(attribute, "holds a character that is not allowed there",
        "text without '\"' and '\\', and without a space at either end", "use another character");
    return {};
  }
  return value;
}

std::string Element::display(std::string_view attribute, std::size_t min, std::size_t max) const {
  std::string value = text(attribute, min, max);
  if (std::any_of(value.begin(), value.end(), [](char c) { return c < 0x20 || c > 0x7E; })) {
    bad(attribute, "holds a character that a station can't show", "printable ASCII",
        "use another character");
    return {};
  }
  return value;
}

std::string Element::plain(std::string_view attribute, std::size_t min, std::size_t max,
                           std::string_view characters) const {
  std::string value = text(attribute, min, max);
  if (!value.empty() && !all_of(value, characters)) {
    bad(attribute, "holds a character that is not allowed there", joined({"only ", characters}),
        "use another character");
    return {};
  }
  return value;
}

std::string Element::path(std::string_view attribute) const {
  const char* value = take(attribute);
  if (value != nullptr && !is_relative_path(value)) {
    bad(attribute, "is not a relative path",
        "a path from this file's folder, with '/' between folders",
        "move the file beside this one, or write the way to it");
    return {};
  }
  return value == nullptr ? "" : value;
}

Digest Element::sha256(std::string_view attribute) const {
  Digest out{};
  const char* value = take(attribute);
  if (value != nullptr && !parse_hex_bytes(value, out)) {
    bad(attribute, "is not a SHA-256 digest", "64 hex digits in lower case",
        "sha256sum prints the digest of a file");
  }
  return out;
}

std::vector<std::uint8_t> Element::bytes(std::string_view attribute, std::size_t min,
                                         std::size_t max) const {
  const char* value = take(attribute);
  if (value == nullptr) {
    return {};
  }
  const std::string digits = lowered(value);
  std::vector<std::uint8_t> out(digits.size() / 2);
  if (out.size() < min || out.size() > max || !parse_hex_bytes(digits, out)) {
    bad(attribute, "is not a row of bytes",
        joined({"two hex digits a byte, ", length_of(min, max), " bytes"}),
        "write the bytes one after another, without 0x and spaces");
    return {};
  }
  return out;
}

} // namespace cardseal::xml
