#include "recall/condition.h"

#include <algorithm>

#include "base/number.h"
#include "format/card_texts.h"
#include "runlog/log_file.h"

namespace cardseal::recall {
namespace {

Error bad_form(const std::string& text, std::string expected) {
  return error_of(ErrorKind::usage, "recall-form", "this is no condition of a recall", text,
                  std::move(expected),
                  "such as slot=3, station=orchard-1, date=2026-03-01..2026-03-05");
}

std::string keys_listed() {
  std::string out = "KEY=VALUE, KEY one of ";
  for (const std::string_view word : key_words) {
    out += word;
    out += word == key_words.back() ? "" : ", ";
  }
  return out;
}

char lower(char c) {
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

bool is_hex(std::string_view text, std::size_t digits) {
  return text.size() == digits && std::all_of(text.begin(), text.end(), [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
         });
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
  case Key::work_class:
    return std::find(format::work_class_words.begin(), format::work_class_words.end(), c.value) !=
                   format::work_class_words.end()
               ? ""
               : "engineering, pilot, production, rework or sample";
  case Key::date:
    return is_day(c.value) && is_day(c.to) && c.value <= c.to
               ? ""
               : "a day as YYYY-MM-DD, or FROM..TO, the first not after the last";
  default:
    return "";
  }
}

} // namespace

bool is_day(std::string_view text) {
  constexpr std::string_view form = "dddd-dd-dd";
  if (text.size() != form.size()) {
    return false;
  }
  for (std::size_t i = 0; i < form.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (form[i] == 'd' ? !digit : text[i] != '-') {
      return false;
    }
  }
  const auto two = [&](std::size_t at) { return 10 * (text[at] - '0') + (text[at + 1] - '0'); };
  return two(5) >= 1 && two(5) <= 12 && two(8) >= 1 && two(8) <= 31;
}

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
  if (out.key == Key::station) {
    std::transform(out.value.begin(), out.value.end(), out.value.begin(), lower);
  }
  const std::size_t dots = out.value.find("..");
  if (out.key == Key::date) {
    out.to = dots == std::string::npos ? out.value : out.value.substr(dots + 2);
    out.value.resize(std::min(dots, out.value.size()));
  }
  if (out.value.starts_with(' ') || out.value.ends_with(' ')) {
    return Unexpected(bad_form(text, "a value without blanks around it"));
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
    out += '=' + c.value + (c.to.empty() || c.to == c.value ? "" : ".." + c.to);
  }
  return out;
}

} // namespace cardseal::recall
