#include "lot_words.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "format/codec.h"
#include "seal/statement.h"

namespace cardseal::tool {
namespace {

std::string signed_by(const format::Id& person, const Utc& time, std::string_view reason) {
  return fmt::format("by {}, {} (claimed): {}", person.view(), words(time), escaped(reason));
}

template <class T>
StatementWords told(const registry::Statement& statement, const Owner* owner,
                    const std::vector<format::Id>& products) {
  if (owner != nullptr) {
    const Try<T> read = seal::read_statement<T>(statement.text, statement.signature, owner->root,
                                                owner->trust, products, "the register");
    return read ? StatementWords{words_of(*read), true}
                : StatementWords{fmt::format("NOT GOOD: {}", describe(read.error())), false};
  }
  T text;
  const Outcome form = format::decode(ByteView(statement.text), text);
  return form.ok() ? StatementWords{fmt::format("{}; not verified", words_of(text)), true}
                   : StatementWords{"NOT GOOD: not in its form", false};
}

} // namespace

std::string words_of(const format::FirstArticle& text) {
  const std::string unit = text.serial.present ? escaped(text.serial.value.view())
                                               : fmt::format("unit {} of card {}", text.ordinal + 1,
                                                             crypto::hex(text.card));
  return fmt::format("first article {} {}", unit,
                     signed_by(text.person, text.time, text.reason.view()));
}

std::string words_of(const format::Concession& text) {
  std::uint64_t units = 0;
  for (const format::UnitRange& range : text.units.view()) {
    units += range.last - range.first + 1;
  }
  return fmt::format("concession {} for {} units {}", escaped(text.number.view()), units,
                     signed_by(text.person, text.time, text.reason.view()));
}

std::string words_of(const format::Close& text) {
  return fmt::format("closed with {} good and {} conceded of {} issued {}", text.units.good,
                     text.units.conceded, text.issued,
                     signed_by(text.person, text.time, text.reason.view()));
}

StatementWords words_of(const registry::Statement& statement, const Owner* owner,
                        const std::string& product) {
  std::vector<format::Id> products;
  format::Id id;
  if (id.set(product)) {
    products.push_back(id);
  }
  switch (statement.kind) {
  case registry::StatementKind::first_article:
    return told<format::FirstArticle>(statement, owner, products);
  case registry::StatementKind::concession:
    return told<format::Concession>(statement, owner, products);
  case registry::StatementKind::closure:
    return told<format::Close>(statement, owner, products);
  }
  return {};
}

} // namespace cardseal::tool
