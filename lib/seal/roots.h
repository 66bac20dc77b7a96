// An owner's roots at the desk: the newest in its file, those before it beside it
// ("owner-3.root", "owner-3.root.v1", "owner-3.root.v2"), each with its signatures. Reading one
// walks the chain from the first, step by step, as a station does.
#pragma once

#include <string>
#include <vector>

#include "format/root.h"
#include "seal/sealed.h"
#include "trust/list_rules.h"

namespace cardseal::seal {

struct OwnerRoot {
  SignedText file;
  format::Root root;
  format::Digest owner{};         // digest of the first root's text
  std::vector<SignedText> before; // versions 1, 2 and so on, up to the one before this
  trust::RootView view() const { return {root, owner}; }
};

// Reads a root and every root before it, and judges each step.
Try<OwnerRoot> read_root(io::System& system, const io::Path& path);

// The root that follows `now`, when its signatures and claims say so; `path` is for messages.
Try<OwnerRoot> next_root(const OwnerRoot& now, SignedText file, const io::Path& path);

// The root of the chain that had this version; the newest when none had.
Try<OwnerRoot> root_of_version(const OwnerRoot& root, std::uint32_t version, const io::Path& path);

// A root that may still lack signatures.
struct RootDraft {
  SignedText file;
  format::Root root;
  std::vector<OwnerRoot> before; // the root in force, one at most; none for an owner's first
};

// Reads a draft, and in full what is before it.
Try<RootDraft> read_root_draft(io::System& system, const io::Path& path);

// Signatures by different persons, of those that are needed.
struct RootCount {
  std::string_view of; // "old root", "new root"
  std::size_t persons = 0;
  std::size_t needed = 0;
};
std::vector<RootCount> count_signatures(const RootDraft& draft);
bool is_complete(const RootDraft& draft);

// Keys that may sign the draft, ascending.
std::vector<format::Key> keys_of(const RootDraft& draft);
std::vector<format::Key> keys_of(const format::Root& root);

// "owner.root.v2" for version 2.
io::Path earlier_root(const io::Path& path, std::uint32_t version);

// A draft under a new name, with all roots before it beside it.
Try<void> write_root_draft(io::System& system, const io::Path& path, const RootDraft& draft);

// Sorts persons and keys as the text wants them; and refuses what no number of signatures that a
// station reads could fulfil.
Try<void> finish_root(format::Root& root, const format::Root* before);

struct RootChange {
  const char* what; // "person-added" and so on, for scripts
  std::string text;
};
// What lets fewer or other people decide first. `before` is null for the first root.
std::vector<RootChange> root_changes(const format::Root* before, const format::Root& after);

} // namespace cardseal::seal
