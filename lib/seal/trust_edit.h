// Changes to a trust list, each by the rules that stations hold the list and what it signs to. A
// change that can't be is an error that says why, and the list stays as it was.
//
// Codes: key-unknown, key-revoked, role-empty, withdrawn-already, trust-full, window-key,
// window-form, window-shared.
#pragma once

#include <string_view>

#include "seal/owner.h"

namespace cardseal::seal {

// What the next change is made to. A list that carries a signature is history: its successor has
// the next sequence and names it. A list without one is a draft and stays the one it is.
format::TrustList next_draft(const OwnerTrust& trust, const Utc& time);

// When nobody would be left who can sign a product off: refuse, or do it all the same.
enum class LastKey : std::uint8_t { keep, revoke };

// Nothing that the key signed counts any more. Its windows stay: their numbers may have been given.
Try<void> revoke(format::TrustList& list, const format::Key& key, LastKey last);

// For good: nothing here takes a withdrawal back.
Try<void> withdraw(format::TrustList& list, const format::Digest& manifest);

// For an active key of role allot. Windows of one scheme share no number, whoever they belong to.
Try<void> add_window(format::TrustList& list, const format::Window& window);

// A station can't hold more than `most` of these.
Error trust_full(std::string_view of_what, std::size_t most);

} // namespace cardseal::seal
