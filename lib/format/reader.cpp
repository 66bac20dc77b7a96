#include "format/reader.h"

#include "base/check_switch.h"
#include "base/utf8.h"

namespace cardseal::format {
namespace {

bool is_lower(char c) {
  return c >= 'a' && c <= 'z';
}
bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

bool is_id(std::string_view text) {
  if (text.empty() || text.size() > 32 || !is_lower(text[0])) {
    return false;
  }
  for (const char c : text) {
    if (!is_lower(c) && !is_digit(c) && c != '-') {
      return false;
    }
  }
  return true;
}

bool is_plain(std::string_view text, Charset charset) {
  while (!text.empty()) {
    const Utf8Char next = next_utf8(text);
    if (next.length == 0 || next.code == '"' || next.code == '\\' || !is_harmless(next.code) ||
        (charset == Charset::display && next.length > 1)) {
      return false;
    }
    text.remove_prefix(next.length);
  }
  return true;
}

int compare(std::string_view a, std::string_view b) {
  for (std::size_t i = 0; i < a.size() && i < b.size(); ++i) {
    const auto left = static_cast<unsigned char>(a[i]);
    const auto right = static_cast<unsigned char>(b[i]);
    if (left != right) {
      return left < right ? -1 : 1;
    }
  }
  return a.size() == b.size() ? 0 : a.size() < b.size() ? -1 : 1;
}

} // namespace

void TextReader::fail(Fault fault) {
  if (ok() && !switched_off(fault)) {
    outcome_ = refuse(fault, line_);
  }
}

void TextReader::head(std::string_view kind) {
  constexpr std::string_view start = "cardseal-";
  constexpr std::string_view version = " 1\n";
  line_ = 1;
  const bool good = text_.size() >= start.size() + kind.size() + version.size() &&
                    slice(text_, 0, start.size()) == start &&
                    slice(text_, start.size(), kind.size()) == kind &&
                    slice(text_, start.size() + kind.size(), version.size()) == version;
  if (!good) {
    fail(Fault::text_header);
    return;
  }
  at_ = start.size() + kind.size() + version.size();
}

void TextReader::begin(std::string_view key) {
  if (!ok()) {
    return;
  }
  ++line_;
  if (at_ >= text_.size()) {
    return fail(Fault::text_end);
  }
  const std::size_t longest = text_.size() - at_ < max_line ? text_.size() - at_ : max_line;
  const std::size_t length = slice(text_, at_, longest).find('\n');
  if (length == std::string_view::npos) {
    return fail(Fault::text_line);
  }
  const std::string_view line = slice(text_, at_, length);
  if (line.size() <= key.size() || slice(line, 0, key.size()) != key || line[key.size()] != ' ') {
    return fail(Fault::text_key);
  }
  rest_ = slice(line, key.size() + 1);
  first_field_ = true;
  at_ += length + 1;
  current_count_ = 0;
}

void TextReader::end() {
  if (ok() && (first_field_ || !rest_.empty())) {
    fail(Fault::text_fields);
  }
}

void TextReader::end_item(Order order) {
  if (!ok()) {
    return;
  }
  if (has_previous_ && !above_previous(order == Order::first_field ? 1 : max_fields)) {
    return fail(Fault::text_order);
  }
  previous_ = current_;
  previous_count_ = current_count_;
  has_previous_ = true;
}

void TextReader::finish() {
  if (ok() && at_ != text_.size()) {
    ++line_;
    fail(Fault::text_end);
  }
}

bool TextReader::above_previous(std::size_t deciding) const {
  for (std::size_t i = 0; i < deciding && i < current_count_ && i < previous_count_; ++i) {
    const Seen& now = current_[i];
    const Seen& before = previous_[i];
    if (now.numeric && before.numeric) {
      if (now.number != before.number) {
        return now.number > before.number;
      }
    } else if (const int order = compare(now.text, before.text); order != 0) {
      return order > 0;
    }
  }
  return false;
}

void TextReader::note(bool numeric, std::uint64_t number, std::string_view text) {
  if (current_count_ < max_fields) {
    current_[current_count_++] = {numeric, number, text};
  }
}

// Fields are separated by exactly one space; a quoted field may hold spaces. Empty when there is no
// further field.
std::string_view TextReader::next_field() {
  if (!ok()) {
    return {};
  }
  if (!first_field_) {
    if (rest_.empty() || rest_[0] != ' ') {
      fail(Fault::text_fields);
      return {};
    }
    rest_ = slice(rest_, 1);
  }
  first_field_ = false;
  std::size_t length = 0;
  if (!rest_.empty() && rest_[0] == '"') {
    const std::size_t close = slice(rest_, 1).find('"');
    length = close == std::string_view::npos ? rest_.size() : close + 2;
  } else {
    const std::size_t space = rest_.find(' ');
    length = space == std::string_view::npos ? rest_.size() : space;
  }
  const std::string_view field = slice(rest_, 0, length);
  rest_ = slice(rest_, length);
  if (field.empty()) {
    fail(Fault::text_form);
  }
  return field;
}

bool TextReader::take_none() {
  const std::size_t skip = first_field_ ? 0 : 1;
  const std::string_view ahead = slice(rest_, skip);
  const bool none =
      ok() && !ahead.empty() && ahead[0] == '-' && (ahead.size() == 1 || ahead[1] == ' ');
  if (none) {
    note(false, 0, next_field());
  }
  return none;
}

bool TextReader::read_uint(std::uint64_t& value, std::uint64_t low, std::uint64_t high) {
  const std::string_view field = next_field();
  if (!ok()) {
    return false;
  }
  if (!parse_uint(field, value)) {
    fail(Fault::text_form);
  } else if (value < low || value > high) {
    fail(Fault::text_range);
  }
  note(true, value, field);
  return ok();
}

void TextReader::count(std::uint16_t& value, std::uint16_t low, std::uint16_t high) {
  std::uint64_t number = 0;
  if (!read_uint(number, low, static_cast<std::uint64_t>(-1))) {
    return;
  }
  if (number > high) {
    fail(Fault::text_count);
    number = high;
  }
  if (ok()) {
    value = static_cast<std::uint16_t>(number);
  }
}

bool TextReader::read_hex(std::uint64_t& value, std::size_t digits) {
  const std::string_view field = next_field();
  if (ok() && (field.size() != digits || !parse_hex(field, value))) {
    fail(Fault::text_form);
  }
  note(false, 0, field);
  return ok();
}

void TextReader::bytes(ByteSpan value) {
  const std::string_view field = next_field();
  if (ok() && !parse_hex_bytes(field, value)) {
    fail(Fault::text_form);
  }
  note(false, 0, field);
}

void TextReader::digest(Digest& value) {
  constexpr std::string_view prefix = "sha256:";
  const std::string_view field = next_field();
  if (ok() && (slice(field, 0, prefix.size()) != prefix ||
               !parse_hex_bytes(slice(field, prefix.size()), value))) {
    fail(Fault::text_form);
  }
  note(false, 0, field);
}

void TextReader::utc(Utc& value) {
  const std::string_view field = next_field();
  if (ok() && !parse_utc(field, value)) {
    fail(Fault::text_form);
  }
  note(false, 0, field);
}

std::string_view TextReader::read_id(std::size_t longest) {
  const std::string_view field = next_field();
  if (ok() && !is_id(field)) {
    fail(Fault::text_form);
  } else if (ok() && field.size() > longest) {
    fail(Fault::text_range);
  }
  note(false, 0, field);
  return field;
}

std::string_view TextReader::read_quoted(std::size_t longest, Charset charset) {
  const std::string_view field = next_field();
  const bool closed = field.size() >= 2 && field[0] == '"' && field[field.size() - 1] == '"';
  const std::string_view inner = closed ? slice(field, 1, field.size() - 2) : std::string_view{};
  if (ok() && (!closed || !is_plain(inner, charset))) {
    fail(Fault::text_form);
  } else if (ok() && (inner.empty() || inner.size() > longest)) {
    fail(Fault::text_range);
  }
  note(false, 0, inner);
  return inner;
}

bool TextReader::read_word(std::span<const std::string_view> words, std::size_t& index) {
  const std::string_view field = next_field();
  if (!ok()) {
    return false;
  }
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == field) {
      index = i;
      note(false, 0, field);
      return true;
    }
  }
  fail(is_id(field) ? Fault::text_range : Fault::text_form);
  return false;
}

} // namespace cardseal::format
