#include "trust/root_rules.h"

#include "format/codec.h"
#include "trust/checks.h"
#include "trust/ed25519_form.h"

namespace cardseal::trust {
namespace {

const format::RootKey* find_maker(const CryptoTable& crypto, const format::Root& root,
                                  const Signed& signed_text) {
  for (const format::RootKey& key : root.keys.view()) {
    if (verifies(crypto, key.key, signed_text)) {
      return &key;
    }
  }
  return nullptr;
}

// Each signature by a key of either root, strictly ascending by public key.
Outcome judge_makers(const CryptoTable& crypto, const format::Root& now, const format::Root& next,
                     ByteView text, const SignatureSet& set) {
  const format::RootKey* before = nullptr;
  for (std::uint16_t i = 0; i < set.count && i < max_signatures; ++i) {
    const Signed each{format::Root::kind, text, set.signatures[i]};
    const format::RootKey* maker = find_maker(crypto, next, each);
    if (maker == nullptr) {
      maker = find_maker(crypto, now, each);
    }
    const bool ascending = before == nullptr || maker == nullptr || before->key < maker->key;
    const Outcome outcome = Checks(i)
                                .need(signature_form_ok(each.signature), Fault::signature_form)
                                .need(maker != nullptr, Fault::signature_bad)
                                .need(ascending, Fault::signature_order)
                                .outcome();
    if (!outcome.ok()) {
      return outcome;
    }
    before = maker == nullptr ? before : maker;
  }
  return done;
}

} // namespace

std::size_t persons_signed(const CryptoTable& crypto, const format::Root& root, ByteView text,
                           const SignatureSet& set) {
  std::size_t persons = 0;
  std::array<const format::RootKey*, max_signatures> by{};
  for (std::size_t i = 0; i < set.count && i < max_signatures; ++i) {
    by[i] = find_maker(crypto, root, {format::Root::kind, text, set.signatures[i]});
    bool again = by[i] == nullptr;
    for (std::size_t j = 0; j < i && !again; ++j) {
      again = by[j] != nullptr && by[j]->person == by[i]->person;
    }
    persons += again ? 0 : 1;
  }
  return persons;
}

Outcome judge_next_root(const CryptoTable& crypto, const RootView& now,
                        const format::Digest& now_text, ByteView text, const SignatureSet& set,
                        format::Root& next) {
  if (text.size() > format::Root::limit) {
    return refuse(Fault::text_too_long);
  }
  const bool by_old = persons_signed(crypto, now.root, text, set) >= now.root.threshold;
  Outcome outcome = Checks().need(by_old, Fault::root_signature).outcome();
  if (outcome.ok()) {
    outcome = format::decode(text, next);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  const bool ours = next.owner.present && next.owner.value == now.owner;
  const bool follows = next.version == now.root.version + 1 && next.previous.present &&
                       next.previous.value == now_text;
  outcome = Checks().need(ours, Fault::root_other_owner).need(follows, Fault::root_step).outcome();
  if (outcome.ok()) {
    outcome = judge_makers(crypto, now.root, next, text, set);
  }
  const bool by_new = outcome.ok() && persons_signed(crypto, next, text, set) >= next.threshold;
  return outcome.ok() ? Checks().need(by_new, Fault::root_signature).outcome() : outcome;
}

} // namespace cardseal::trust
