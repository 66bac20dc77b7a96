#include "commands_trust.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "trust_parts.h"

namespace cardseal::tool {
namespace {

Try<format::Root> root_from(const TrustRootOptions& options) {
  format::Root root;
  root.threshold = static_cast<std::uint8_t>(options.threshold);
  TRY_VOID(add_persons(options.persons, root));
  for (const std::string& text : options.keys) {
    const std::vector<std::string> parts = split(text, ':');
    if (parts.size() != 2) {
      return Unexpected(bad_part("a root key", text, "PERSON:PUBLIC-KEY-FILE"));
    }
    TRY(person, to_id(parts[0], "the person's id"));
    TRY(key, crypto::read_public_key_file(io::real_system(), parts[1]));
    if (!root.keys.add({key, person})) {
      return Unexpected(seal::trust_full("root keys", root.keys.capacity()));
    }
  }
  std::sort(root.persons.items.begin(), root.persons.items.begin() + root.persons.count,
            [](const auto& a, const auto& b) { return a.id.view() < b.id.view(); });
  std::sort(root.keys.items.begin(), root.keys.items.begin() + root.keys.count,
            [](const auto& a, const auto& b) { return a.key < b.key; });
  return root;
}

} // namespace

Ran run_trust_root(const TrustRootOptions& options) {
  TRY(root, root_from(options));
  TRY(file, seal::make_first_root(root));
  TRY(key, open_key(options.key));
  TRY_VOID(seal::add_signature(file, format::Root::kind, seal::keys_of(root), key));
  TRY_VOID(seal::write_signed(io::real_system(), options.output, file, io::IfExists::refuse));
  const crypto::Digest owner = crypto::sha256(file.text);
  say(fmt::format("root         {}  version 1, threshold {}", options.output, root.threshold));
  say("fingerprint  (read it aloud to whoever enrols stations)");
  say(fmt::format("  {}", seal::spoken(owner)));
  return 0;
}

Ran run_trust_new(const TrustNewOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(time, time_or_now(options.time));
  format::TrustList list;
  list.owner = root.owner;
  list.root_version = root.root.version;
  list.time = time;
  list.persons = root.root.persons;
  TRY(text, seal::spell(list));
  TRY_VOID(seal::write_signed(io::real_system(), options.output, {text, {}}, io::IfExists::refuse));
  describe_list(list, 0);
  note("next: cardseal trust add, then cardseal trust sign");
  return 0;
}

} // namespace cardseal::tool
