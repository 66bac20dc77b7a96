#include "commands_trust.h"
#include "common.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "elsewhere.h"
#include "file_kind.h"
#include "seal/trust_diff.h"
#include "trust_parts.h"
#include "view/trust_json.h"

namespace cardseal::tool {
namespace {

void say_list(const char* which, const std::string& file, const seal::OwnerTrust& trust) {
  say(fmt::format("{:<7} {}  sequence {}, {}", which, file, trust.list.sequence,
                  crypto::spell_digest(trust.digest)));
}

void say_changes(const std::vector<seal::TrustChange>& changes) {
  for (const seal::TrustChange& change : changes) {
    say(fmt::format("  {}{}", change.allowed() ? "" : "not allowed: ", change.text));
  }
}

struct Before {
  std::string file; // empty: there is none, the list is the owner's first
  seal::OwnerTrust trust;
};

Error before_missing(const TrustSignOptions& options, const seal::OwnerTrust& draft) {
  return at(error_of(ErrorKind::no_input, "trust-before",
                     "the list that this one follows is not here, so nobody sees what changes",
                     "no list of its own before",
                     draft.list.previous.present ? crypto::spell_digest(draft.list.previous.value)
                                                 : "sequence 1, as an owner's first list has",
                     "name the list in force with --before"),
            options.file);
}

// The list to compare with: the one named, else the one that was kept when the draft was begun.
Try<Before> find_before(const TrustSignOptions& options, const seal::OwnerRoot& root,
                        const seal::OwnerTrust& draft) {
  io::System& system = io::real_system();
  const std::string kept = kept_before(options.file).string();
  const std::string file = options.before.empty() ? kept : options.before;
  if (!options.before.empty() || system.stat(kept).has_value()) {
    TRY(trust, seal::read_trust_of_chain(system, file, root));
    const bool is_next = draft.list.previous.present && draft.list.previous.value == trust.digest;
    if (!options.before.empty() || is_next || trust.digest == draft.digest) {
      return Before{file, std::move(trust)};
    }
  }
  if (!draft.list.previous.present && draft.list.sequence == 1) {
    return Before{"", seal::nothing_before(draft)};
  }
  return Unexpected(before_missing(options, draft));
}

Try<void> show_what_changes(const TrustSignOptions& options, const seal::OwnerRoot& root,
                            const seal::OwnerTrust& draft) {
  TRY(before, find_before(options, root, draft));
  if (before.file.empty()) {
    say("before  nothing: this is the owner's first list");
  } else {
    say_list("before", before.file, before.trust);
  }
  say_list("after", options.file, draft);
  say_changes(seal::changes(before.trust, draft));
  Try<void> follows = seal::check_follows(before.trust, draft);
  if (!follows) {
    Error error = follows.error();
    error.place.file = options.file;
    return Unexpected(std::move(error));
  }
  return {};
}

// The file as it is now, whose text must be the one that was shown. What somebody else signed while
// this person was reading is kept: the next signature goes beside those that are there now.
Try<seal::SignedText> read_shown(const std::string& file, const seal::SignedText& shown,
                                 std::size_t limit) {
  TRY(now, seal::read_signed(io::real_system(), file, limit));
  if (now.text == shown.text) {
    return now;
  }
  return Unexpected(at(refused("text-changed", "the file changed between view and signature", "",
                               "", "nothing was signed; look at it again"),
                       file));
}

// A text of the owner's that gets one more signature.
struct Due {
  const TrustSignOptions& options;
  std::string_view kind;
  const char* what;
  std::string name; // what a person types
  std::size_t limit;
  seal::SignedText shown;
  std::vector<format::Key> keys; // that may sign

  ToSign to_sign() const { return {kind, shown.text, what, "file"}; }
};

// With the signature, unless its bytes only went out to be signed.
Try<std::optional<seal::SignedText>> with_signature(const Due& due, const crypto::Signature& made) {
  TRY(now, read_shown(due.options.file, due.shown, due.limit));
  TRY_VOID(seal::add_signature(now, due.kind, due.keys, made));
  TRY_VOID(seal::write_signed(io::real_system(), due.options.file, now, io::IfExists::replace));
  return std::optional(std::move(now));
}

Try<std::optional<seal::SignedText>> sign_here(const Due& due) {
  TRY_VOID(confirm(due.name, due.options.confirm));
  TRY(key, open_key(due.options.key));
  return with_signature(due, seal::sign(key, due.kind, due.shown.text));
}

Error not_enrolled(const Due& due) {
  return at(error_of(ErrorKind::config, "key-not-enrolled", "this key is not on the root", "", "",
                     "sign with a key that the root lists"),
            due.options.elsewhere.public_key);
}

Try<std::optional<seal::SignedText>> sign_elsewhere(const Due& due, Way way) {
  const Elsewhere& elsewhere = due.options.elsewhere;
  TRY(key, crypto::read_public_key_file(io::real_system(), elsewhere.public_key));
  if (std::find(due.keys.begin(), due.keys.end(), key) == due.keys.end()) {
    return Unexpected(not_enrolled(due));
  }
  if (way == Way::attach) {
    TRY(signature, read_attached(elsewhere, key, due.to_sign()));
    return with_signature(due, signature);
  }
  TRY_VOID(confirm(due.name, due.options.confirm));
  TRY_VOID(read_shown(due.options.file, due.shown, due.limit));
  TRY_VOID(write_signed_bytes(elsewhere, due.to_sign()));
  note("next: sign that file (Ed25519, 64 raw bytes), then give the same options with --attach "
       "SIGNATURE for --signed-bytes");
  return std::optional<seal::SignedText>();
}

Try<std::optional<seal::SignedText>> sign_due(const Due& due) {
  TRY(way, way_of(due.options.key, due.options.elsewhere));
  return way == Way::here ? sign_here(due) : sign_elsewhere(due, way);
}

Ran sign_list(const TrustSignOptions& options) {
  if (options.root.empty()) {
    return Unexpected(
        usage_error("a trust list is signed under a root", "no --root", "--root FILE"));
  }
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(trust, seal::read_trust_draft(io::real_system(), options.file, root));
  TRY_VOID(show_what_changes(options, root, trust));
  TRY(with, sign_due({options, format::TrustList::kind, "trust list",
                      fmt::format("trust list {}", trust.list.sequence), format::TrustList::limit,
                      trust.file, seal::keys_of(root.root)}));
  if (with) {
    describe_list(trust.list, with->signatures.size());
  }
  return 0;
}

void show_root(const std::string& file, const seal::RootDraft& draft) {
  const format::Root* before = draft.before.empty() ? nullptr : &draft.before[0].root;
  say(before == nullptr
          ? "before  nothing: this is the owner's first root"
          : fmt::format("before  version {}, threshold {}", before->version, before->threshold));
  say(fmt::format("after   {}  version {}, {}", file, draft.root.version,
                  crypto::spell_digest(crypto::sha256(draft.file.text))));
  for (const seal::RootChange& change : seal::root_changes(before, draft.root)) {
    say("  " + change.text);
  }
}

void say_counts(const seal::RootDraft& draft) {
  for (const seal::RootCount& count : seal::count_signatures(draft)) {
    say(fmt::format("{:<11} {} of {} person{} signed", count.of, count.persons, count.needed,
                    count.needed == 1 ? " has" : "s have"));
  }
}

Ran sign_root(const TrustSignOptions& options) {
  TRY(draft, seal::read_root_draft(io::real_system(), options.file));
  show_root(options.file, draft);
  TRY(with,
      sign_due({options, format::Root::kind, "root", fmt::format("root {}", draft.root.version),
                format::Root::limit, draft.file, seal::keys_of(draft)}));
  if (!with) {
    return 0;
  }
  draft.file = std::move(*with);
  say_counts(draft);
  if (!seal::is_complete(draft)) {
    note("next: more persons sign it; until then nothing can be done under it");
  } else if (!draft.before.empty()) {
    note(fmt::format("in force from now on: give it as --root {0}; next: cardseal trust add LIST "
                     "--root {0} brings the trust list under it, then sign that",
                     options.file));
  }
  return 0;
}

Ran diff_roots(const TrustDiffOptions& options) {
  TRY(before, seal::read_root_draft(io::real_system(), options.before));
  TRY(after, seal::read_root_draft(io::real_system(), options.after));
  const std::vector<seal::RootChange> changes = seal::root_changes(&before.root, after.root);
  const bool same = before.file.text == after.file.text;
  if (options.json) {
    say(view::json_of({options.before, before}, {options.after, after}, changes));
    return same ? 0 : 1;
  }
  say(fmt::format("before  {}  root version {}", options.before, before.root.version));
  say(fmt::format("after   {}  root version {}", options.after, after.root.version));
  for (const seal::RootChange& change : changes) {
    say("  " + change.text);
  }
  say(same ? "same    nothing differs" : "differs");
  return same ? 0 : 1;
}

Error not_signed_here(const std::string& file) {
  return at(error_of(ErrorKind::bad_data, "file-kind", "this is neither a root nor a trust list",
                     "", "", "for a release package use: cardseal sign or cardseal diff"),
            file);
}

} // namespace

Ran run_trust_diff(const TrustDiffOptions& options) {
  TRY(kind, kind_of(options.before));
  if (kind == FileKind::root) {
    return diff_roots(options);
  }
  TRY(before, seal::read_trust_form(io::real_system(), options.before));
  TRY(after, seal::read_trust_form(io::real_system(), options.after));
  const std::vector<seal::TrustChange> changes = seal::changes(before, after);
  if (options.json) {
    say(view::json_of({options.before, before}, {options.after, after}, changes));
    return changes.empty() ? 0 : 1;
  }
  say_list("before", options.before, before);
  say_list("after", options.after, after);
  say_changes(changes);
  say(changes.empty()
          ? "same    nothing differs"
          : fmt::format("differs {} change{}", changes.size(), changes.size() == 1 ? "" : "s"));
  note("compared as they stand; nothing was verified (cardseal verify does)");
  return changes.empty() ? 0 : 1;
}

Ran run_trust_sign(const TrustSignOptions& options) {
  TRY(kind, kind_of(options.file));
  switch (kind) {
  case FileKind::root:
    return sign_root(options);
  case FileKind::trust:
    return sign_list(options);
  default:
    return Unexpected(not_signed_here(options.file));
  }
}

} // namespace cardseal::tool
