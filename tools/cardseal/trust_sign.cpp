#include "commands_trust.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
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
  Error error;
  error.kind = ErrorKind::no_input;
  error.code = "trust-before";
  error.what = "the list that this one follows is not here, so nobody sees what changes";
  error.place.file = options.list;
  error.found = "no list of its own before";
  error.expected = draft.list.previous.present ? crypto::spell_digest(draft.list.previous.value)
                                               : "sequence 1, as an owner's first list has";
  error.hint = "name the list in force with --before";
  return error;
}

// The list to compare with: the one named, else the one that was kept when the draft was begun.
Try<Before> find_before(const TrustSignOptions& options, const seal::OwnerRoot& root,
                        const seal::OwnerTrust& draft) {
  io::System& system = io::real_system();
  const std::string kept = kept_before(options.list).string();
  const std::string file = options.before.empty() ? kept : options.before;
  if (!options.before.empty() || system.stat(kept).has_value()) {
    TRY(trust, seal::read_trust(system, file, root));
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
  say_list("after", options.list, draft);
  say_changes(seal::changes(before.trust, draft));
  Try<void> follows = seal::check_follows(before.trust, draft);
  if (!follows) {
    Error error = follows.error();
    error.place.file = options.list;
    return Unexpected(std::move(error));
  }
  return {};
}

} // namespace

Ran run_trust_diff(const TrustDiffOptions& options) {
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
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(trust, seal::read_trust_draft(io::real_system(), options.list, root));
  TRY_VOID(show_what_changes(options, root, trust));
  TRY(key, open_key(options.key));
  TRY_VOID(seal::add_signature(trust.file, format::TrustList::kind, seal::keys_of(root.root), key));
  TRY_VOID(seal::write_signed(io::real_system(), options.list, trust.file, io::IfExists::replace));
  describe_list(trust.list, trust.file.signatures.size());
  return 0;
}

} // namespace cardseal::tool
