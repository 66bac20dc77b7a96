// What the pages of quality's statements share. Inside this module.
#pragma once

#include "crypto/sha256.h"
#include "page/fields.h"
#include "page/spell.h"
#include "page/statement_pages.h"
#include "page/words.h"

namespace cardseal::page {

// Whether a signature is there and counts, whether a register keeps the text; sources and packages.
void put_statement(Fields& page, const format::Id& person, const StatementInput& input,
                   bool from_logs);

// Work order, and quality's signature.
template <class T>
void put_signed(Fields& page, const T& text, const StatementInput& input, bool from_logs) {
  page.set("WORK_ORDER", text.work_order.view());
  page.set("PERSON", text.person.view());
  page.set("REASON", text.reason.view());
  page.set("TIME", time_words(text.time));
  page.set("OWNER", crypto::spell_digest(text.owner));
  page.set("MEANING", words_of("meaning", T::kind));
  put_statement(page, text.person, input, from_logs);
}

// Null: it is not among those given.
const package::Package* package_of(const StatementInput& input, const format::Digest& manifest);

} // namespace cardseal::page
