// A withdrawal: one person's signed stop of a package, a key or an allotment. It only takes away,
// so one signature of role quality or withdraw is enough, whatever product the key counts for.
#pragma once

#include "format/signoff.h"
#include "trust/list_rules.h"

namespace cardseal::trust {

inline constexpr std::size_t max_withdrawals = 8; // texts on one card

// Signature first (321, 331), then form, owner (332) and that it names its signer (333).
Outcome judge_withdrawal(const CryptoTable& crypto, const RootView& root,
                         const format::TrustList& list, ByteView text, ByteView signature,
                         format::Withdrawal& out);

// The 32 bytes that are stopped: a manifest's digest, an allotment text's digest or a public key.
// They are kept in one list, since no two of them are ever equal by accident.
format::Digest withdrawn_value(const format::Withdrawal& withdrawal);

// A withdrawn key is a revoked one: what it signed or will sign counts no more.
void stop_key(format::TrustList& list, const format::Digest& value);

} // namespace cardseal::trust
