// What quality signs about a lot: kinds first-article, concession and close (lib/format/SPEC.md).
#pragma once

#include "format/lot_texts.h"
#include "seal/owner.h"

namespace cardseal::seal {

// The holder of `key` as far as statements go: an active key of role quality that counts for every
// one of `products`. Refused: key-role.
Try<format::Id> quality_person(const OwnerTrust& trust, const format::Key& key,
                               const std::vector<format::Id>& products, const std::string& file);

// The key of the trust list that signed the text of this kind, whatever its role and state.
// Refused: statement-signature.
Try<format::Key> signer_of(std::string_view kind, ByteView text, ByteView signature,
                           const OwnerTrust& trust, const std::string& file);

// Reads one and judges it: signature, signer, owner, person, and that its counts add up. Without
// `products` only a key that counts for every product will do. `T` is
// format::FirstArticle, Concession or Close. `file` is for messages. Errors: statement-signature,
// statement-owner, statement-person, statement-sum, those of quality_person, and a text's form.
template <class T>
Try<T> read_statement(ByteView text, ByteView signature, const OwnerRoot& root,
                      const OwnerTrust& trust, const std::vector<format::Id>& products,
                      const std::string& file);

} // namespace cardseal::seal
