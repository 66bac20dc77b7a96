// Admission of what stands above a package: trust list and card index.
#pragma once

#include "format/card_texts.h"
#include "trust/signatures.h"

namespace cardseal::trust {

// The root in force and its owner, as the verifier holds it.
struct RootView {
  const format::Root& root;
  format::Digest owner; // digest of the owner's first root text
};

// What a trust list says of itself, signed or not: owner, root version, and that no two windows of
// a scheme overlap.
Outcome judge_list_claims(const RootView& root, const format::TrustList& list);

// Signatures first, then form, owner, root version and that no two windows of a scheme overlap.
// `out` and `digest` are set on success.
Outcome judge_trust_list(const CryptoTable& crypto, const RootView& root, ByteView text,
                         const SignatureSet& signatures, format::TrustList& out,
                         format::Digest& digest);

struct ListMark { // what identifies a trust list a station keeps
  std::uint32_t root_version = 0;
  std::uint32_t sequence = 0;
  format::Digest digest{};
};

enum class Standing : std::uint8_t { older, same, newer };

// Where `met` stands to the one kept; 306 when both claim one place and differ.
Outcome compare_lists(const ListMark& kept, const ListMark& met, Standing& standing);

// The index of a card, signed by one active key of role allot, made under this root version and
// under no newer list than `list`.
Outcome judge_card_index(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::CardIndex& out);

// Finds the signer of a text that only an active key of role allot may sign; `bad` otherwise.
Outcome find_allot_signer(const CryptoTable& crypto, const format::TrustList& list,
                          const Signed& signed_text, Fault bad, const format::TrustedKey*& signer);

} // namespace cardseal::trust
