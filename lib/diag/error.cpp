#include "diag/error.h"

#include <fmt/format.h>

#include "base/utf8.h"

namespace cardseal {

std::string escaped(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const Utf8Char next = next_utf8(text);
    if (next.length == 0) {
      out += fmt::format("\\x{:02x}", static_cast<unsigned char>(text[0]));
      text.remove_prefix(1);
      continue;
    }
    if (next.code == '\\') {
      out += "\\\\";
    } else if (is_harmless(next.code)) {
      out += text.substr(0, next.length);
    } else {
      out += fmt::format("\\u{{{:x}}}", static_cast<std::uint32_t>(next.code));
    }
    text.remove_prefix(next.length);
  }
  return out;
}

namespace {

std::string spell(const Place& place) {
  std::string out = escaped(place.file);
  if (place.line != 0) {
    out += fmt::format(":{}", place.line);
  }
  if (place.column != 0) {
    out += fmt::format(":{}", place.column);
  }
  if (!place.item.empty()) {
    out += (out.empty() ? "" : ": ") + escaped(place.item);
  }
  return out;
}

} // namespace

Error error_of(ErrorKind kind, std::string code, std::string what, std::string found,
               std::string expected, std::string hint) {
  Error error;
  error.kind = kind;
  error.code = std::move(code);
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

Error refused(std::string code, std::string what, std::string found, std::string expected,
              std::string hint) {
  return error_of(ErrorKind::refused, std::move(code), std::move(what), std::move(found),
                  std::move(expected), std::move(hint));
}

Error at(Error error, std::string file, std::uint32_t line) {
  error.place.file = std::move(file);
  error.place.line = line;
  return error;
}

std::string describe(const Error& error) {
  std::string out = spell(error.place);
  out += (out.empty() ? "" : ": ") + error.what;
  if (!error.found.empty()) {
    out += ": found " + escaped(error.found);
  }
  if (!error.expected.empty()) {
    out += (error.found.empty() ? ": expected " : ", expected ") + escaped(error.expected);
  }
  if (!error.hint.empty()) {
    out += " (" + error.hint + ")";
  }
  return out;
}

Error error_from(const Outcome& outcome, std::string file) {
  const FaultText& text = fault_text(outcome.fault);
  Error error;
  error.kind = ErrorKind::refused;
  error.code = fmt::format("reason-{}", static_cast<unsigned>(outcome.fault));
  error.what = fmt::format("{} (reason {})", text.sentence, static_cast<unsigned>(outcome.fault));
  error.place.file = std::move(file);
  if (outcome.fault >= Fault::text_too_long && outcome.fault < Fault::container_header) {
    error.place.line = outcome.position;
  }
  error.hint = text.advice;
  return error;
}

} // namespace cardseal
