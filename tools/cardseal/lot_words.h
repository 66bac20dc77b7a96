// Signed statements about a lot, for people.
#pragma once

#include "common.h"
#include "format/lot_texts.h"
#include "register/types.h"

namespace cardseal::tool {

std::string words_of(const format::FirstArticle& text);
std::string words_of(const format::Concession& text);
std::string words_of(const format::Close& text);

struct StatementWords {
  std::string line; // what it says, and who signed it
  bool good = true; // false: it was looked at and does not count
};

// `owner`: whose trust list judges it; null: it is told as it stands, and said to be unverified.
StatementWords words_of(const registry::Statement& statement, const Owner* owner,
                        const std::string& product);

} // namespace cardseal::tool
