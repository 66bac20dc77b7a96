#include "seal/statement.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"
#include "format/codec.h"
#include "trust/signatures.h"

namespace cardseal::seal {
namespace {

// Where nobody says what products it is about, only a key without a limit counts.
bool counts_for(const format::TrustedKey& key, const std::vector<format::Id>& products) {
  return !key.product.present ||
         (!products.empty() &&
          std::all_of(products.begin(), products.end(),
                      [&](const format::Id& product) { return product == key.product.value; }));
}

constexpr bool adds_up(const format::FirstArticle&) {
  return true;
}
constexpr bool adds_up(const format::Concession&) {
  return true;
}

Error wrong_role(const std::string& file) {
  return at(error_of(ErrorKind::config, "key-role", "this key signs no statements about this lot",
                     "", "an active key of role quality on the trust list, for this product",
                     "have quality sign it"),
            file);
}

} // namespace

Try<format::Id> quality_person(const OwnerTrust& trust, const format::Key& key,
                               const std::vector<format::Id>& products, const std::string& file) {
  for (const format::TrustedKey& known : trust.list.keys.view()) {
    if (known.key == key && known.role == format::Role::quality &&
        known.state == format::KeyState::active && counts_for(known, products)) {
      return known.person;
    }
  }
  return Unexpected(wrong_role(file));
}

Try<format::Key> signer_of(std::string_view kind, ByteView text, ByteView signature,
                           const OwnerTrust& trust, const std::string& file) {
  crypto::BotanContext botan;
  const format::TrustedKey* signer = nullptr;
  const Outcome found =
      trust::find_signer(crypto::botan_table(botan), trust.list, {kind, text, signature}, signer);
  if (!found.ok() || signer == nullptr) {
    return Unexpected(
        at(refused("statement-signature", "no key of the trust list signed this text", "", "",
                   "the text or its signature was changed, or the signer's key is on no list of "
                   "this owner"),
           file));
  }
  return signer->key;
}

template <class T>
Try<T> read_statement(ByteView text, ByteView signature, const OwnerRoot& root,
                      const OwnerTrust& trust, const std::vector<format::Id>& products,
                      const std::string& file) {
  Try<format::Key> signer = signer_of(T::kind, text, signature, trust, file);
  Try<format::Id> person =
      signer ? quality_person(trust, *signer, products, file) : Unexpected(signer.error());
  if (!person) {
    return Unexpected(std::move(person).error());
  }
  T out;
  const Outcome form = format::decode(text, out);
  if (!form.ok()) {
    return Unexpected(error_from(form, file));
  }
  if (out.owner != root.owner) {
    return Unexpected(at(refused("statement-owner", "this text is another owner's", "", "",
                                 "look at where it came from"),
                         file));
  }
  if (out.person != *person) {
    return Unexpected(at(refused("statement-person", "the person named is not the one who signed",
                                 "", "", "have the one sign who is named"),
                         file));
  }
  if (!adds_up(out)) {
    return Unexpected(at(refused("statement-sum", "the counts of this text don't add up", "", "",
                                 "nothing that is signed so counts: close the lot again"),
                         file));
  }
  return out;
}

template Try<format::FirstArticle> read_statement(ByteView, ByteView, const OwnerRoot&,
                                                  const OwnerTrust&, const std::vector<format::Id>&,
                                                  const std::string&);
template Try<format::Concession> read_statement(ByteView, ByteView, const OwnerRoot&,
                                                const OwnerTrust&, const std::vector<format::Id>&,
                                                const std::string&);
template Try<format::Close> read_statement(ByteView, ByteView, const OwnerRoot&, const OwnerTrust&,
                                           const std::vector<format::Id>&, const std::string&);

} // namespace cardseal::seal
