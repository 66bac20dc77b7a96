// The owner's roots: the first, and each that follows.
#include "commands_trust.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "trust_parts.h"

namespace cardseal::tool {
namespace {

Try<void> add_root_keys(const std::vector<std::string>& texts, format::Root& root) {
  for (const std::string& text : texts) {
    const std::vector<std::string> parts = split(text, ':');
    if (parts.size() != 2) {
      return Unexpected(bad_part("a root key", text, "PERSON:PUBLIC-KEY-FILE"));
    }
    TRY(person, to_id(parts[0], "the person's id"));
    TRY(key, crypto::read_public_key_file(io::real_system(), parts[1]));
    if (!format::knows_person(root, person)) {
      return Unexpected(usage_error("nobody of this id is on the root", parts[0],
                                    "the id of a person on the root",
                                    fmt::format("add the person too: --person {}:NAME", parts[0])));
    }
    for (const format::RootKey& known : root.keys.view()) {
      if (known.key == key) {
        return Unexpected(usage_error("this key is on the root already", parts[1],
                                      "a key that is not",
                                      "each person brings a key of their own"));
      }
    }
    if (!root.keys.add({key, person})) {
      return Unexpected(seal::trust_full("root keys", root.keys.capacity()));
    }
  }
  return {};
}

Try<void> set_threshold(std::uint32_t threshold, format::Root& root) {
  if (threshold < 1 || threshold > trust::max_signatures) {
    return Unexpected(usage_error("the threshold is out of range", std::to_string(threshold),
                                  fmt::format("1 to {} persons", trust::max_signatures)));
  }
  root.threshold = static_cast<std::uint8_t>(threshold);
  return {};
}

template <class T, std::size_t N, class Same>
std::size_t drop(format::List<T, N>& list, Same same) {
  format::List<T, N> kept;
  for (const T& each : list.view()) {
    if (!same(each)) {
      kept.add(each);
    }
  }
  const std::size_t dropped = list.count - kept.count;
  list = kept;
  return dropped;
}

Error not_there(const char* what, const std::string& found) {
  return usage_error(fmt::format("the root holds no such {}", what), found,
                     fmt::format("a {} that the root holds", what),
                     "cardseal show ROOT prints persons and keys");
}

Try<void> drop_keys(const TrustRotateOptions& options, format::Root& root) {
  for (const std::string& file : options.drop_keys) {
    TRY(key, crypto::read_public_key_file(io::real_system(), file));
    if (drop(root.keys, [&](const auto& each) { return each.key == key; }) == 0) {
      return Unexpected(not_there("key", file));
    }
  }
  for (const std::string& text : options.drop_persons) {
    TRY(id, to_id(text, "the person's id"));
    if (drop(root.persons, [&](const auto& each) { return each.id == id; }) == 0) {
      return Unexpected(not_there("person", text));
    }
    drop(root.keys, [&](const auto& each) { return each.person == id; });
  }
  return {};
}

void say_fingerprint(ByteView text, const char* why) {
  say(fmt::format("fingerprint  ({})", why));
  say(fmt::format("  {}", seal::spoken(crypto::sha256(text))));
}

Try<format::Root> next_of(const TrustRotateOptions& options, const seal::OwnerRoot& now) {
  format::Root root = now.root;
  root.owner.set(now.owner);
  root.previous.set(crypto::sha256(now.file.text));
  ++root.version;
  TRY_VOID(drop_keys(options, root));
  TRY_VOID(add_persons(options.persons, root));
  TRY_VOID(add_root_keys(options.keys, root));
  if (options.threshold) {
    TRY_VOID(set_threshold(*options.threshold, root));
  }
  TRY_VOID(seal::finish_root(root, &now.root));
  return root;
}

} // namespace

Ran run_trust_root(const TrustRootOptions& options) {
  format::Root root;
  TRY_VOID(set_threshold(options.threshold, root));
  TRY_VOID(add_persons(options.persons, root));
  TRY_VOID(add_root_keys(options.keys, root));
  TRY_VOID(seal::finish_root(root, nullptr));
  TRY(text, seal::spell(root));
  seal::SignedText file{std::move(text), {}};
  if (!options.key.file.empty()) {
    TRY(key, open_key(options.key));
    TRY_VOID(seal::add_signature(file, format::Root::kind, seal::keys_of(root), key));
  }
  TRY_VOID(seal::write_signed(io::real_system(), options.output, file, io::IfExists::refuse));
  say(fmt::format("root         {}  version 1, threshold {}", options.output, root.threshold));
  say_fingerprint(file.text, "read it aloud to whoever enrols stations");
  const std::size_t more = root.threshold - file.signatures.size();
  if (more > 0) {
    note(fmt::format("next: {} more person{} it with cardseal trust sign", more,
                     more == 1 ? " signs" : "s sign"));
  }
  return 0;
}

Ran run_trust_rotate(const TrustRotateOptions& options) {
  TRY(now, seal::read_root(io::real_system(), options.current));
  TRY(root, next_of(options, now));
  TRY(text, seal::spell(root));
  const std::vector<seal::RootChange> changes = seal::root_changes(&now.root, root);
  seal::RootDraft draft{{std::move(text), {}}, root, {}};
  draft.before.push_back(std::move(now));
  TRY_VOID(seal::write_root_draft(io::real_system(), options.output, draft));
  say(fmt::format("root         {}  version {}, threshold {}, not yet signed", options.output,
                  root.version, root.threshold));
  for (const seal::RootChange& change : changes) {
    say("  " + change.text);
  }
  say_fingerprint(draft.file.text, "of this version; read it aloud to whoever signs");
  note(fmt::format("next: cardseal trust sign {0}, by {1} of the old root's persons and {2} of the "
                   "new one's; the roots before it stand beside it as {0}.v1 and so on",
                   options.output, draft.before[0].root.threshold, root.threshold));
  return 0;
}

} // namespace cardseal::tool
