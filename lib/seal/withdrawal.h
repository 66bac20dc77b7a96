// Withdrawals as files of their own: a text with one signature beside it.
#pragma once

#include "format/signoff.h"
#include "seal/owner.h"

namespace cardseal::seal {

// Reads a withdrawal and judges it by `trust` as a station would.
Try<OwnerWithdrawal> read_withdrawal(io::System& system, const io::Path& path,
                                     const OwnerRoot& root, const OwnerTrust& trust);

// The holder of `key` as far as stops go: an active key of role quality or withdraw. Refused:
// key-role. `file` is for messages.
Try<format::Id> stopping_person(const OwnerTrust& trust, const format::Key& key,
                                const std::string& file);

// What `trust` lets through becomes less by it, and a card made with `trust` carries it. An error
// when a card has no room for it.
Try<void> stop_by(OwnerTrust& trust, OwnerWithdrawal withdrawal);

// The same for a list alone; false when it has no room.
bool stop_by(format::TrustList& list, const format::Withdrawal& withdrawal);

// "package sha256:...", "key ..." or "allotment sha256:...".
std::string stopped_words(const format::Withdrawal& withdrawal);

} // namespace cardseal::seal
