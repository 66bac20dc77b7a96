// A withdrawal: one person's signed stop of a package, a key or an allotment. It only takes away,
// so one signature of role quality or withdraw is enough, whatever product the key counts for.
#pragma once

#include "format/signoff.h"
#include "trust/list_rules.h"

namespace cardseal::trust {

inline constexpr std::size_t max_withdrawals = 8; // texts on one card

// Signature first (321, 331), then form, owner (332) and that it names its signer (333). `signer`
// is the key on `list` that signed.
Outcome judge_withdrawal(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::Withdrawal& out, const format::TrustedKey*& signer);

enum class StopKind : std::uint8_t { package = 'p', allotment = 'a', key = 'k' };

// What is stopped: a manifest's digest, an allotment text's digest or a public key. The kind
// belongs to it: whoever names a key's bytes as a manifest stops a package of that digest, and no
// key.
struct Stop {
  StopKind kind = StopKind::package;
  format::Digest value{};
};

Stop stop_of(const format::Withdrawal& withdrawal);

// What a station keeps of a stop: SHA-256 of the kind's byte and the value, so that one table holds
// stops of all kinds and none is taken for one of another kind.
format::Digest mark_of(const CryptoTable& crypto, const Stop& stop);

// The list itself withdraws this manifest, or holds this key as revoked.
bool is_stopped_by(const format::TrustList& list, const Stop& stop);

// A withdrawn key is a revoked one: what it signed or will sign counts no more.
void stop_key(format::TrustList& list, const format::Key& key);

} // namespace cardseal::trust
