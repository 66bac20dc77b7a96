#include "trust/signatures.h"

#include "format/card_texts.h"
#include "format/signoff.h"
#include "trust/checks.h"
#include "trust/dsse.h"
#include "trust/ed25519_form.h"

namespace cardseal::trust {
namespace {

// Index of the root key that made the signature, or the number of keys when there is none.
std::uint16_t find_root_key(const CryptoTable& crypto, const format::Root& root,
                            const Signed& signed_text) {
  std::uint16_t i = 0;
  while (i < root.keys.count && !verifies(crypto, root.keys.items[i].key, signed_text) &&
         !switched_off(Fault::signature_bad)) {
    ++i;
  }
  return i;
}

bool seen_before(const format::Root& root, std::span<const std::uint16_t> earlier,
                 const format::Id& person) {
  for (const std::uint16_t index : earlier) {
    if (root.keys.items[index].person == person) {
      return true;
    }
  }
  return false;
}

// Whether a text has this key in hexadecimal anywhere.
bool mentions(ByteView text, const format::Key& key) {
  std::array<std::uint8_t, 2 * sizeof(format::Key)> hex{};
  for (std::size_t i = 0; i < key.size(); ++i) {
    constexpr std::string_view digits = "0123456789abcdef";
    hex[2 * i] = static_cast<std::uint8_t>(digits[key[i] >> 4U]);
    hex[2 * i + 1] = static_cast<std::uint8_t>(digits[key[i] & 15U]);
  }
  for (std::size_t at = 0; at + hex.size() <= text.size(); ++at) {
    if (text[at] == hex[0] && equal(text.subspan(at, hex.size()), hex)) {
      return true;
    }
  }
  return false;
}

// Most texts are signed by a key that they name, or by one of the role that signs their kind.
// Nothing is believed of it, and nothing follows but which keys are tried first: a verification is
// what takes a station's time.
bool is_likely(const Signed& signed_text, const format::TrustedKey& key) {
  using format::Role;
  const bool of_desk =
      signed_text.kind == format::Allotment::kind || signed_text.kind == format::CardIndex::kind;
  const bool of_stop = signed_text.kind == format::Withdrawal::kind;
  return (of_desk && key.role == Role::allot) || (of_stop && key.role == Role::withdraw) ||
         mentions(signed_text.text, key.key);
}

} // namespace

format::Digest digest_of(const CryptoTable& crypto, ByteView bytes) {
  format::Digest digest{};
  crypto.sha256_start(crypto.context);
  crypto.sha256_add(crypto.context, bytes.data(), bytes.size());
  crypto.sha256_finish(crypto.context, digest.data());
  return digest;
}

bool verifies(const CryptoTable& crypto, const format::Key& key, const Signed& signed_text) {
  if (!public_key_form_ok(key) || signed_text.signature.size() != signature_size) {
    return false;
  }
  if (!signature_form_ok(signed_text.signature) && !switched_off(Fault::signature_form)) {
    return false;
  }
  const DsseHead head = dsse_head_for_kind(signed_text.kind, signed_text.text.size());
  return crypto.ed25519_verify(crypto.context, key.data(), head.view().data(), head.size,
                               signed_text.text.data(), signed_text.text.size(),
                               signed_text.signature.data());
}

Outcome find_signer(const CryptoTable& crypto, const format::TrustList& list,
                    const Signed& signed_text, const format::TrustedKey*& signer) {
  signer = nullptr;
  const Outcome form =
      Checks().need(signature_form_ok(signed_text.signature), Fault::signature_form).outcome();
  if (!form.ok()) {
    return form;
  }
  for (const bool likely : {true, false}) {
    for (const format::TrustedKey& key : list.keys.view()) {
      if (is_likely(signed_text, key) == likely &&
          (verifies(crypto, key.key, signed_text) || switched_off(Fault::signature_bad))) {
        signer = &key;
        return done;
      }
    }
  }
  return refuse(Fault::signature_bad);
}

Outcome judge_root_signatures(const CryptoTable& crypto, const format::Root& root,
                              std::string_view kind, ByteView text, const SignatureSet& set) {
  std::array<std::uint16_t, max_signatures> by{};
  std::size_t persons = 0;
  for (std::uint16_t i = 0; i < set.count && i < max_signatures; ++i) {
    const Signed each{kind, text, set.signatures[i]};
    const bool formed = signature_form_ok(each.signature);
    by[i] = find_root_key(crypto, root, each);
    const Outcome outcome = Checks(i)
                                .need(formed, Fault::signature_form)
                                .need(by[i] < root.keys.count, Fault::signature_bad)
                                .need(i == 0 || by[i] > by[i - 1U], Fault::signature_order)
                                .outcome();
    if (!outcome.ok() || by[i] >= root.keys.count) {
      return outcome;
    }
    const bool again = seen_before(root, std::span(by).first(i), root.keys.items[by[i]].person);
    persons += again ? 0 : 1;
  }
  return Checks().need(persons >= root.threshold, Fault::trust_signature).outcome();
}

} // namespace cardseal::trust
