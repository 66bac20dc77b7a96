#include "recall/condition.h"

#include <algorithm>

#include "base/number.h"
#include "runlog/log_file.h"

namespace cardseal::recall {
namespace {

Error bad_form(const std::string& text, std::string expected) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "recall-form";
  error.what = "this is no condition of a recall";
  error.found = text;
  error.expected = std::move(expected);
  error.hint = "such as slot=3, station=orchard-1, date=2026-03-01..2026-03-05";
  return error;
}

std::string keys_listed() {
  std::string out = "KEY=VALUE, KEY one of ";
  for (const std::string_view word : key_words) {
    out += word;
    out += word == key_words.back() ? "" : ", ";
  }
  return out;
}

bool is_hex(std::string_view text, std::size_t digits) {
  return text.size() == digits && std::all_of(text.begin(), text.end(), [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
         });
}

// Days that compare as text: YYYY-MM-DD.
bool is_day(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') {
    return false;
  }
  std::uint64_t year = 0;
  std::uint64_t month = 0;
  std::uint64_t day = 0;
  return parse_uint(text.substr(0, 4), year) &&
         parse_uint(text[5] == '0' ? text.substr(6, 1) : text.substr(5, 2), month) &&
         parse_uint(text[8] == '0' ? text.substr(9, 1) : text.substr(8, 2), day) && month >= 1 &&
         month <= 12 && day >= 1 && day <= 31;
}

bool is_number(std::string_view text, std::uint64_t most) {
  std::uint64_t value = 0;
  return parse_uint(text, value) && value >= 1 && value <= most;
}

// What is expected of the value; empty: it is fine.
std::string wrong_with(const Condition& c) {
  switch (c.key) {
  case Key::package:
    return c.value.starts_with("sha256:") && is_hex(std::string_view(c.value).substr(7), 64)
               ? ""
               : "sha256: and 64 lower-case hex digits";
  case Key::firmware:
  case Key::signed_by:
    return is_hex(c.value, 64) ? "" : "64 lower-case hex digits";
  case Key::card:
    return is_hex(c.value, 16) ? "" : "16 lower-case hex digits";
  case Key::slot:
    return is_number(c.value, 32) ? "" : "1 to 32";
  case Key::session:
    return is_number(c.value, 999'999'999) ? "" : "a session's number, from 1";
  case Key::date:
    if (c.to.empty()) {
      return "";
    }
    return is_day(c.value) && is_day(c.to) && c.value <= c.to
               ? ""
               : "FROM..TO, days as YYYY-MM-DD, the first not after the last";
  default:
    return "";
  }
}

} // namespace

Try<Condition> parse_condition(const std::string& text) {
  const std::size_t equals = text.find('=');
  const auto* key = std::find(key_words.begin(), key_words.end(),
                              std::string_view(text).substr(0, std::min(equals, text.size())));
  if (equals == std::string::npos || equals + 1 == text.size() || key == key_words.end()) {
    return Unexpected(bad_form(text, keys_listed()));
  }
  Condition out;
  out.key = static_cast<Key>(key - key_words.begin());
  out.value = text.substr(equals + 1);
  if (is_in_log(out.key)) {
    out.value = runlog::capitals(out.value);
  }
  const std::size_t dots = out.value.find("..");
  if (out.key == Key::date && dots != std::string::npos) {
    out.to = out.value.substr(dots + 2);
    out.value.resize(dots);
  }
  const std::string expected = wrong_with(out);
  if (!expected.empty() || out.value.empty()) {
    return Unexpected(bad_form(text, expected.empty() ? "a value" : expected));
  }
  return out;
}

std::string spelled(const std::vector<Condition>& conditions) {
  std::string out;
  for (const Condition& c : conditions) {
    out += out.empty() ? "" : " and ";
    out += key_words[static_cast<std::size_t>(c.key)];
    out += '=' + c.value + (c.to.empty() ? "" : ".." + c.to);
  }
  return out;
}

} // namespace cardseal::recall
