#include "trust/withdrawal_rules.h"

#include "format/codec.h"
#include "trust/checks.h"

namespace cardseal::trust {

Outcome judge_withdrawal(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::Withdrawal& out) {
  const format::TrustedKey* signer = nullptr;
  Outcome outcome = find_signer(crypto, list, {format::Withdrawal::kind, text, signature}, signer);
  if (outcome.fault == Fault::signature_form) {
    return outcome;
  }
  const bool may_stop =
      outcome.ok() && signer != nullptr && signer->state == format::KeyState::active &&
      (signer->role == format::Role::quality || signer->role == format::Role::withdraw);
  outcome = Checks().need(may_stop, Fault::withdrawal_signature).outcome();
  if (outcome.ok()) {
    outcome = format::decode(text, out);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  const bool own = signer == nullptr || out.person == signer->person;
  return Checks()
      .need(out.owner == root.owner, Fault::withdrawal_owner)
      .need(own, Fault::withdrawal_person)
      .outcome();
}

format::Digest withdrawn_value(const format::Withdrawal& withdrawal) {
  if (withdrawal.manifest.present) {
    return withdrawal.manifest.value;
  }
  return withdrawal.key.present ? withdrawal.key.value : withdrawal.allotment.value;
}

void stop_key(format::TrustList& list, const format::Digest& value) {
  for (format::TrustedKey& key : list.keys.view()) {
    if (key.key == value) {
      key.state = format::KeyState::revoked;
    }
  }
}

} // namespace cardseal::trust
