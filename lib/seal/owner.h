// The owner's root and trust lists as the desk holds them.
#pragma once

#include "format/root.h"
#include "format/trust_list.h"
#include "seal/sealed.h"
#include "trust/list_rules.h"

namespace cardseal::seal {

struct OwnerRoot {
  SignedText file;
  format::Root root;
  format::Digest owner{}; // digest of the first root text
  trust::RootView view() const { return {root, owner}; }
};

// Reads a root and checks that its own keys signed it (each key once, threshold met).
Try<OwnerRoot> read_root(io::System& system, const io::Path& path);

// The first root of an owner: version 1.
Try<SignedText> make_first_root(const format::Root& root);

struct OwnerTrust {
  SignedText file;
  format::TrustList list;
  format::Digest digest{};
};

// Reads a trust list of any owner, signed or not: its form only.
Try<OwnerTrust> read_trust_form(io::System& system, const io::Path& path);

// Reads a trust list and judges it under `root` as a station would.
Try<OwnerTrust> read_trust(io::System& system, const io::Path& path, const OwnerRoot& root);

// Reads a trust list that may still lack signatures (a draft): its form, and what it says of
// itself.
Try<OwnerTrust> read_trust_draft(io::System& system, const io::Path& path, const OwnerRoot& root);

std::vector<format::Key> keys_of(const format::Root& root);

// Sorts what the text wants ascending; other content stays as it is.
void sort_lists(format::TrustList& list);

// "sha256:<64 hex>" in groups of four that can be read aloud.
std::string spoken(const format::Digest& digest);

} // namespace cardseal::seal
