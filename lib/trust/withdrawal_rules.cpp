#include "trust/withdrawal_rules.h"

#include "format/codec.h"
#include "trust/checks.h"

namespace cardseal::trust {

Outcome judge_withdrawal(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::Withdrawal& out, const format::TrustedKey*& signer) {
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

Stop stop_of(const format::Withdrawal& withdrawal) {
  if (withdrawal.manifest.present) {
    return {StopKind::package, withdrawal.manifest.value};
  }
  return withdrawal.key.present ? Stop{StopKind::key, withdrawal.key.value}
                                : Stop{StopKind::allotment, withdrawal.allotment.value};
}

format::Digest mark_of(const CryptoTable& crypto, const Stop& stop) {
  std::array<std::uint8_t, 1 + digest_size> bytes{static_cast<std::uint8_t>(stop.kind)};
  copy(ByteSpan(bytes).subspan(1), stop.value);
  return digest_of(crypto, bytes);
}

bool is_stopped_by(const format::TrustList& list, const Stop& stop) {
  bool stopped = false;
  for (const format::Digest& manifest : list.withdrawn.view()) {
    stopped = stopped || (stop.kind == StopKind::package && manifest == stop.value);
  }
  for (const format::TrustedKey& key : list.keys.view()) {
    stopped = stopped || (stop.kind == StopKind::key && key.key == stop.value &&
                          key.state == format::KeyState::revoked);
  }
  return stopped;
}

void stop_key(format::TrustList& list, const format::Key& key) {
  for (format::TrustedKey& known : list.keys.view()) {
    if (known.key == key) {
      known.state = format::KeyState::revoked;
    }
  }
}

} // namespace cardseal::trust
