#include "trust/list_rules.h"

#include "format/codec.h"
#include "trust/checks.h"

namespace cardseal::trust {
namespace {

// Numbers that two windows give out would be given twice, by two desks or by one.
bool windows_are_disjoint(const format::TrustList& list) {
  const std::span<const format::Window> windows = list.windows.view();
  for (std::size_t i = 0; i < windows.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const format::Window& a = windows[i];
      const format::Window& b = windows[j];
      if (a.scheme == b.scheme && a.first <= b.last && b.first <= a.last) {
        return false;
      }
    }
  }
  return true;
}

} // namespace

Outcome judge_list_claims(const RootView& root, const format::TrustList& list) {
  return Checks()
      .need(list.owner == root.owner, Fault::trust_owner)
      .need(list.root_version == root.root.version, Fault::trust_root)
      .need(windows_are_disjoint(list), Fault::trust_windows)
      .outcome();
}

Outcome judge_trust_list(const CryptoTable& crypto, const RootView& root, ByteView text,
                         const SignatureSet& signatures, format::TrustList& out,
                         format::Digest& digest) {
  if (text.size() > format::TrustList::limit) {
    return refuse(Fault::text_too_long);
  }
  Outcome outcome =
      judge_root_signatures(crypto, root.root, format::TrustList::kind, text, signatures);
  if (outcome.ok()) {
    outcome = format::decode(text, out);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  digest = digest_of(crypto, text);
  return judge_list_claims(root, out);
}

Outcome compare_lists(const ListMark& kept, const ListMark& met, Standing& standing) {
  if (kept.root_version != met.root_version) {
    standing = met.root_version > kept.root_version ? Standing::newer : Standing::older;
    return done;
  }
  if (kept.sequence != met.sequence) {
    standing = met.sequence > kept.sequence ? Standing::newer : Standing::older;
    return done;
  }
  standing = Standing::same;
  return Checks().need(kept.digest == met.digest, Fault::trust_same_sequence).outcome();
}

Outcome find_allot_signer(const CryptoTable& crypto, const format::TrustList& list,
                          const Signed& signed_text, Fault bad, const format::TrustedKey*& signer) {
  const Outcome found = find_signer(crypto, list, signed_text, signer);
  if (found.fault == Fault::signature_form) {
    return found;
  }
  const bool good = found.ok() && signer != nullptr && signer->role == format::Role::allot &&
                    signer->state == format::KeyState::active;
  if (signer == nullptr && list.keys.count > 0) {
    signer = &list.keys.items[0]; // only met when a test has switched `bad` off
  }
  return Checks().need(good, bad).outcome();
}

Outcome judge_card_index(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::CardIndex& out) {
  const format::TrustedKey* signer = nullptr;
  Outcome outcome = find_allot_signer(crypto, list, {format::CardIndex::kind, text, signature},
                                      Fault::index_signature, signer);
  if (outcome.ok()) {
    outcome = format::decode(text, out);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  return Checks()
      .need(out.owner == root.owner, Fault::index_owner)
      .need(out.root_version == root.root.version, Fault::index_root)
      .need(out.trust_sequence <= list.sequence, Fault::index_trust)
      .outcome();
}

} // namespace cardseal::trust
