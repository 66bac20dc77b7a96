// What quality signed about a lot, as files of their own.
#pragma once

#include <fmt/format.h>

#include "common.h"
#include "format/codec.h"
#include "format/lot_texts.h"

namespace cardseal::tool {

// Calls `f` with a value of the text's kind.
template <class F>
Ran with_kind(ByteView text, F f) {
  const auto is_a = [&](std::string_view kind) {
    return text_of(text).starts_with(fmt::format("cardseal-{} ", kind));
  };
  if (is_a(format::FirstArticle::kind)) {
    return f(format::FirstArticle());
  }
  return is_a(format::Concession::kind) ? f(format::Concession()) : f(format::Close());
}

// As it stands, whoever signed it.
template <class T>
Try<void> decode_statement(ByteView text, const std::string& file, T& value) {
  const Outcome outcome = format::decode(text, value);
  if (outcome.ok()) {
    return {};
  }
  Error error = error_from(outcome, file);
  error.place.line = outcome.position;
  error.kind = ErrorKind::bad_data;
  return Unexpected(std::move(error));
}

Ran verify_statement(const VerifyOptions& options);
Ran show_statement_json(const ShowOptions& options);
Ran review_statement(const ReviewOptions& options); // the page

} // namespace cardseal::tool
