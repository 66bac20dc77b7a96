// Which enrolled key signed a text. Nothing of a text is believed before this answered.
#pragma once

#include "base/outcome.h"
#include "format/root.h"
#include "format/trust_list.h"
#include "trust/crypto_table.h"

namespace cardseal::trust {

struct Signed { // a text of some kind, with one signature over it
  std::string_view kind;
  ByteView text;
  ByteView signature;
};

// SHA-256 of `bytes`.
format::Digest digest_of(const CryptoTable& crypto, ByteView bytes);

// Form first (321), then the signature itself; true when `key` made it.
bool verifies(const CryptoTable& crypto, const format::Key& key, const Signed& signed_text);

// The key of the list that made this signature, whatever its role and state; fault 321 when the
// signature has not the one form, 322 when no key of the list made it.
Outcome find_signer(const CryptoTable& crypto, const format::TrustList& list,
                    const Signed& signed_text, const format::TrustedKey*& signer);

// At most this many signature files belong to one text.
inline constexpr std::size_t max_signatures = 8;

struct SignatureSet {
  std::array<ByteView, max_signatures> signatures;
  std::size_t count = 0;
};

// Every signature must verify under a root key, strictly ascending by public key; `threshold`
// distinct persons must be among the keys. Fault 303 when too few, else as above or 323.
Outcome judge_root_signatures(const CryptoTable& crypto, const format::Root& root,
                              std::string_view kind, ByteView text, const SignatureSet& set);

} // namespace cardseal::trust
