#include "seal/roots.h"

#include <algorithm>
#include <cerrno>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"
#include "trust/root_rules.h"

namespace cardseal::seal {
namespace {

Try<format::Root> decode_root(ByteView text, const io::Path& path) {
  format::Root root;
  const Outcome outcome = format::decode(text, root);
  if (outcome.ok()) {
    return root;
  }
  Error error = error_from(outcome, path.string());
  error.place.line = outcome.position;
  error.kind = ErrorKind::bad_data;
  return Unexpected(std::move(error));
}

// The first root vouches for itself; whoever enrols a station compares its fingerprint.
Try<OwnerRoot> first_root(SignedText file, const io::Path& path) {
  Try<format::Root> root = decode_root(file.text, path);
  if (!root) {
    return Unexpected(std::move(root).error());
  }
  OwnerRoot out{std::move(file), *root, {}, {}};
  out.owner = crypto::sha256(out.file.text);
  crypto::BotanContext botan;
  Outcome outcome = root->version == 1 ? done : refuse(Fault::root_step);
  if (outcome.ok()) {
    outcome = trust::judge_root_signatures(crypto::botan_table(botan), out.root, format::Root::kind,
                                           out.file.text, set_of(out.file));
  }
  if (!outcome.ok()) {
    return Unexpected(error_from(outcome, path.string()));
  }
  return out;
}

// Version `newest`, from the files beside `path`.
Try<OwnerRoot> read_chain(io::System& system, const io::Path& path, std::uint32_t newest) {
  Try<SignedText> file = read_signed(system, earlier_root(path, 1), format::Root::limit);
  if (!file) {
    Error error = std::move(file).error();
    error.hint = fmt::format("the roots before version {} belong beside {}: copy them all",
                             newest + 1, path.string());
    return Unexpected(std::move(error));
  }
  Try<OwnerRoot> root = first_root(std::move(*file), earlier_root(path, 1));
  for (std::uint32_t version = 2; root && version <= newest; ++version) {
    const io::Path each = earlier_root(path, version);
    Try<SignedText> next = read_signed(system, each, format::Root::limit);
    root = next ? next_root(*root, std::move(*next), each) : Unexpected(std::move(next).error());
  }
  return root;
}

template <class T, std::size_t N, class Less>
void sort_by(format::List<T, N>& list, Less less) {
  std::sort(list.items.begin(), list.items.begin() + list.count, less);
}

// Persons who sign for both roots with one key.
std::size_t persons_in_both(const format::Root& a, const format::Root& b) {
  std::vector<std::string_view> persons;
  for (const format::RootKey& key : a.keys.view()) {
    for (const format::RootKey& other : b.keys.view()) {
      if (key.key == other.key) {
        persons.push_back(key.person.view());
      }
    }
  }
  std::sort(persons.begin(), persons.end());
  persons.erase(std::unique(persons.begin(), persons.end()), persons.end());
  return persons.size();
}

std::size_t persons_with_keys(const format::Root& root) {
  std::size_t count = 0;
  for (const format::Person& person : root.persons.view()) {
    count += std::any_of(root.keys.view().begin(), root.keys.view().end(),
                         [&](const auto& key) { return key.person == person.id; })
                 ? 1
                 : 0;
  }
  return count;
}

Error cannot_sign(std::string what, std::string found, std::string expected, const char* hint) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "root-threshold";
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = hint;
  return error;
}

std::string key_words(const format::RootKey& key) {
  return fmt::format("{}, {}", key.person.view(), crypto::hex(key.key));
}

template <class Items, class Same>
bool any(const Items& items, Same same) {
  return std::any_of(items.begin(), items.end(), same);
}

void tell_keys(const format::Root& from, const format::Root& other, const char* what,
               const char* words, std::vector<RootChange>& out) {
  for (const format::RootKey& key : from.keys.view()) {
    if (!any(other.keys.view(),
             [&](const auto& each) { return each.key == key.key && each.person == key.person; })) {
      out.push_back({what, fmt::format("{}: {}", words, key_words(key))});
    }
  }
}

void tell_persons(const format::Root& from, const format::Root& other, const char* what,
                  const char* words, std::vector<RootChange>& out) {
  for (const format::Person& person : from.persons.view()) {
    if (!any(other.persons.view(),
             [&](const auto& each) { return each.id == person.id && each.name == person.name; })) {
      out.push_back(
          {what, fmt::format("{}: {}, {}", words, person.id.view(), escaped(person.name.view()))});
    }
  }
}

// A name that is taken is told before anything is made.
Try<void> check_names(io::System& system, const io::Path& path, std::size_t earlier) {
  std::vector<io::Path> names{path};
  for (std::uint32_t version = 1; version <= earlier; ++version) {
    names.push_back(earlier_root(path, version));
  }
  for (const io::Path& name : names) {
    if (system.stat(name).has_value()) {
      return Unexpected(io::error_from(io::Errno{EEXIST}, name, "create"));
    }
  }
  return {};
}

// What this run made itself, so that the next one does not meet it.
void remove_signed(io::System& system, const io::Path& path, const SignedText& made) {
  for (std::size_t i = 0; i < made.signatures.size(); ++i) {
    (void)system.remove(signature_path(path, i));
  }
  (void)system.remove(path);
}

} // namespace

Try<OwnerRoot> next_root(const OwnerRoot& now, SignedText file, const io::Path& path) {
  OwnerRoot out{std::move(file), {}, now.owner, now.before};
  out.before.push_back(now.file);
  crypto::BotanContext botan;
  const Outcome outcome =
      trust::judge_next_root(crypto::botan_table(botan), now.view(), crypto::sha256(now.file.text),
                             out.file.text, set_of(out.file), out.root);
  if (!outcome.ok()) {
    return Unexpected(error_from(outcome, path.string()));
  }
  return out;
}

io::Path earlier_root(const io::Path& path, std::uint32_t version) {
  return io::Path(path).concat(fmt::format(".v{}", version));
}

Try<OwnerRoot> read_root(io::System& system, const io::Path& path) {
  Try<SignedText> file = read_signed(system, path, format::Root::limit);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  Try<format::Root> root = decode_root(file->text, path);
  if (!root) {
    return Unexpected(std::move(root).error());
  }
  if (root->version == 1) {
    return first_root(std::move(*file), path);
  }
  Try<OwnerRoot> before = read_chain(system, path, root->version - 1);
  return before ? next_root(*before, std::move(*file), path) : std::move(before);
}

Try<OwnerRoot> root_of_version(const OwnerRoot& root, std::uint32_t version, const io::Path& path) {
  if (version == root.root.version || version == 0 || version > root.root.version) {
    return root;
  }
  Try<OwnerRoot> out = first_root(root.before[0], earlier_root(path, 1));
  for (std::uint32_t next = 2; out && next <= version; ++next) {
    out = next_root(*out, root.before[next - 1], earlier_root(path, next));
  }
  return out;
}

Try<RootDraft> read_root_draft(io::System& system, const io::Path& path) {
  Try<SignedText> file = read_signed(system, path, format::Root::limit);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  Try<format::Root> root = decode_root(file->text, path);
  if (!root) {
    return Unexpected(std::move(root).error());
  }
  RootDraft draft{std::move(*file), *root, {}};
  if (root->version == 1) {
    return draft;
  }
  Try<OwnerRoot> before = read_chain(system, path, root->version - 1);
  if (!before) {
    return Unexpected(std::move(before).error());
  }
  const bool ours = draft.root.owner.present && draft.root.owner.value == before->owner;
  const bool follows =
      draft.root.previous.present && draft.root.previous.value == crypto::sha256(before->file.text);
  if (!ours || !follows) {
    return Unexpected(
        error_from(refuse(ours ? Fault::root_step : Fault::root_other_owner), path.string()));
  }
  draft.before.push_back(std::move(*before));
  return draft;
}

std::vector<RootCount> count_signatures(const RootDraft& draft) {
  crypto::BotanContext botan;
  const trust::CryptoTable crypto = crypto::botan_table(botan);
  std::vector<RootCount> out;
  const trust::SignatureSet set = set_of(draft.file);
  for (const OwnerRoot& before : draft.before) {
    out.push_back({"old root", trust::persons_signed(crypto, before.root, draft.file.text, set),
                   before.root.threshold});
  }
  out.push_back({draft.before.empty() ? "this root" : "new root",
                 trust::persons_signed(crypto, draft.root, draft.file.text, set),
                 draft.root.threshold});
  return out;
}

bool is_complete(const RootDraft& draft) {
  const std::vector<RootCount> counts = count_signatures(draft);
  return std::all_of(counts.begin(), counts.end(),
                     [](const RootCount& each) { return each.persons >= each.needed; });
}

std::vector<format::Key> keys_of(const format::Root& root) {
  std::vector<format::Key> keys;
  for (const format::RootKey& key : root.keys.view()) {
    keys.push_back(key.key);
  }
  return keys;
}

std::vector<format::Key> keys_of(const RootDraft& draft) {
  std::vector<format::Key> keys = keys_of(draft.root);
  for (const OwnerRoot& before : draft.before) {
    const std::vector<format::Key> old = keys_of(before.root);
    keys.insert(keys.end(), old.begin(), old.end());
  }
  std::sort(keys.begin(), keys.end());
  keys.erase(std::unique(keys.begin(), keys.end()), keys.end());
  return keys;
}

Try<void> write_root_draft(io::System& system, const io::Path& path, const RootDraft& draft) {
  std::vector<SignedText> earlier;
  for (const OwnerRoot& before : draft.before) {
    earlier = before.before;
    earlier.push_back(before.file);
  }
  Try<void> written = check_names(system, path, earlier.size());
  std::uint32_t made = 0;
  while (written && made < earlier.size()) {
    written =
        write_signed(system, earlier_root(path, made + 1), earlier[made], io::IfExists::refuse);
    made += written ? 1 : 0;
  }
  if (written) {
    written = write_signed(system, path, draft.file, io::IfExists::refuse);
  }
  for (std::uint32_t i = 0; !written && i < made; ++i) {
    remove_signed(system, earlier_root(path, i + 1), earlier[i]);
  }
  return written;
}

Try<void> finish_root(format::Root& root, const format::Root* before) {
  sort_by(root.persons, [](const auto& a, const auto& b) { return a.id.view() < b.id.view(); });
  sort_by(root.keys, [](const auto& a, const auto& b) { return a.key < b.key; });
  const std::size_t able = persons_with_keys(root);
  if (root.threshold < 1 || root.threshold > able) {
    return Unexpected(cannot_sign("this root could never be signed by enough persons",
                                  fmt::format("threshold {}", root.threshold),
                                  fmt::format("1 to {}, the persons who have a key", able),
                                  "add persons and keys, or ask for fewer"));
  }
  std::size_t needed = root.threshold;
  if (before != nullptr) {
    const std::size_t both = persons_in_both(*before, root);
    needed += before->threshold;
    needed -= std::min({both, std::size_t{root.threshold}, std::size_t{before->threshold}});
  }
  if (needed > trust::max_signatures) {
    return Unexpected(cannot_sign("a station reads no more signatures than it has room for",
                                  fmt::format("{} signatures needed", needed),
                                  fmt::format("at most {}", trust::max_signatures),
                                  "ask for fewer persons, or change fewer keys at a time"));
  }
  return {};
}

std::vector<RootChange> root_changes(const format::Root* before, const format::Root& after) {
  static const format::Root nothing;
  const format::Root& old = before == nullptr ? nothing : *before;
  std::vector<RootChange> out;
  if (before != nullptr && before->threshold != after.threshold) {
    const bool fewer = after.threshold < before->threshold;
    out.push_back({fewer ? "threshold-lowered" : "threshold-raised",
                   fmt::format("{} persons needed: was {}, now {}", fewer ? "fewer" : "more",
                               before->threshold, after.threshold)});
  }
  if (before == nullptr) {
    out.push_back({"threshold", fmt::format("persons needed: {}", after.threshold)});
  }
  tell_keys(after, old, "key-added", "root key added", out);
  tell_keys(old, after, "key-removed", "root key gone", out);
  tell_persons(after, old, "person-added", "person added", out);
  tell_persons(old, after, "person-removed", "person gone", out);
  return out;
}

} // namespace cardseal::seal
