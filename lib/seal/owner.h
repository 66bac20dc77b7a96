// The owner's trust lists as the desk holds them.
#pragma once

#include <optional>
#include <vector>

#include "format/signoff.h"
#include "seal/roots.h"

namespace cardseal::seal {

struct OwnerWithdrawal {
  SignedText file; // with one signature
  format::Withdrawal withdrawal;
};

struct OwnerTrust {
  SignedText file;
  format::TrustList list;
  format::Digest digest{};
  std::vector<OwnerWithdrawal> withdrawals = {}; // texts of their own that go with it
};

// Reads a trust list of any owner, signed or not: its form only.
Try<OwnerTrust> read_trust_form(io::System& system, const io::Path& path);

// Reads a trust list and judges it under `root` as a station would.
Try<OwnerTrust> read_trust(io::System& system, const io::Path& path, const OwnerRoot& root);

// Reads a trust list that was signed under `root` or under a root before it.
Try<OwnerTrust> read_trust_of_chain(io::System& system, const io::Path& path,
                                    const OwnerRoot& root);

// Reads a trust list that may still lack signatures (a draft): its form, and what it says of
// itself.
Try<OwnerTrust> read_trust_draft(io::System& system, const io::Path& path, const OwnerRoot& root);

// Those that the list gives to a desk's key: all, or the ones of one use.
std::vector<format::Window> windows_of(const format::TrustList& list, const format::Key& key,
                                       std::optional<format::WindowUse> use = std::nullopt);

// Sorts what the text wants ascending; other content stays as it is.
void sort_lists(format::TrustList& list);

// "sha256:<64 hex>" in groups of four that can be read aloud.
std::string spoken(const format::Digest& digest);

} // namespace cardseal::seal
