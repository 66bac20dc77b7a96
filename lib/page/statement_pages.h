// Pages of what quality signed about a lot: a first article, a concession, a closure. Rendered from
// the sealed text; a number's data-of names the same in the JSON of `cardseal show`. What the text
// has by digest or number alone (a package, who noted a card) is told from packages and a register
// where they are given, and said to be missing where they are not.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "format/lot_texts.h"
#include "format/trust_list.h"
#include "page/lot_pages.h"

namespace cardseal::page {

struct StatementSigner { // of a signature that was found to count
  format::Key key{};
  const format::TrustList& list;
  std::uint32_t root_version = 1;
};

struct StatementRegister { // what a register has of the text's lot
  std::vector<CardOfSet> cards;
  bool keeps_text = false;
};

struct StatementInput {
  format::Digest digest{}; // of the text
  bool is_signed = false;
  const StatementSigner* signer = nullptr;       // none: the signature was not looked at
  const StatementRegister* registered = nullptr; // none: no register was given
  const std::vector<const package::Package*>& packages;
  const std::vector<std::string>& sources; // a line each
};

std::string statement_page(const format::FirstArticle& text, const StatementInput& input);
std::string statement_page(const format::Concession& text, const StatementInput& input);
std::string statement_page(const format::Close& text, const StatementInput& input);

} // namespace cardseal::page
