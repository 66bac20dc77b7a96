#include "commands.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::tool {
namespace {

Error bad_part(const char* what, const std::string& found, const char* expected) {
  return usage_error(fmt::format("{} is not in its form", what), found, expected);
}

Error full(const char* what, std::size_t most) {
  Error error;
  error.kind = ErrorKind::config;
  error.code = "trust-full";
  error.what = fmt::format("a station can't hold more {}", what);
  error.expected = fmt::format("at most {}", most);
  error.hint = "leave out what is no longer needed";
  return error;
}

Try<format::Person> to_person(const std::string& text) {
  const std::size_t colon = text.find(':');
  if (colon == std::string::npos) {
    return Unexpected(bad_part("a person", text, "ID:NAME"));
  }
  TRY(id, to_id(text.substr(0, colon), "the person's id"));
  TRY(name, to_text<24>(text.substr(colon + 1), "the person's name"));
  return format::Person{id, name};
}

template <class T>
Try<void> add_persons(const std::vector<std::string>& texts, T& out) {
  for (const std::string& text : texts) {
    TRY(person, to_person(text));
    if (!out.persons.add(person)) {
      return Unexpected(full("persons", out.persons.capacity()));
    }
  }
  return {};
}

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
      return Unexpected(full("root keys", root.keys.capacity()));
    }
  }
  std::sort(root.persons.items.begin(), root.persons.items.begin() + root.persons.count,
            [](const auto& a, const auto& b) { return a.id.view() < b.id.view(); });
  std::sort(root.keys.items.begin(), root.keys.items.begin() + root.keys.count,
            [](const auto& a, const auto& b) { return a.key < b.key; });
  return root;
}

Try<void> add_key(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 3 && parts.size() != 4) {
    return Unexpected(bad_part("a key", text, "PERSON:ROLE:PUBLIC-KEY-FILE[:PRODUCT]"));
  }
  format::TrustedKey key;
  TRY(person, to_id(parts[0], "the person's id"));
  TRY(role, to_word(parts[1], format::role_words, "the role"));
  TRY(public_key, crypto::read_public_key_file(io::real_system(), parts[2]));
  key.person = person;
  key.role = static_cast<format::Role>(role);
  key.key = public_key;
  if (parts.size() == 4) {
    TRY(product, to_id(parts[3], "the product"));
    key.product.set(product);
  }
  if (!list.keys.add(key)) {
    return Unexpected(full("keys", list.keys.capacity()));
  }
  return {};
}

// A product named again takes the new epoch and floor; neither may go down.
Try<void> add_product(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 3) {
    return Unexpected(bad_part("a product", text, "ID:EPOCH:LOWEST-SEQUENCE"));
  }
  TRY(id, to_id(parts[0], "the product"));
  TRY(epoch, to_uint(parts[1], "the epoch", 999'999));
  TRY(floor, to_uint(parts[2], "the lowest sequence", 999'999'999));
  const format::Product product{id, static_cast<std::uint32_t>(epoch), floor};
  for (format::Product& known : list.products.view()) {
    if (known.id == id) {
      if (epoch < known.epoch || (epoch == known.epoch && floor < known.floor)) {
        return Unexpected(usage_error("a product's epoch and floor never go down", text,
                                      fmt::format("at least {}:{}", known.epoch, known.floor)));
      }
      known = product;
      return {};
    }
  }
  if (!list.products.add(product)) {
    return Unexpected(full("products", list.products.capacity()));
  }
  return {};
}

Try<void> add_window(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 4) {
    return Unexpected(bad_part("a window", text, "PUBLIC-KEY-FILE:SCHEME:FIRST:LAST"));
  }
  TRY(key, crypto::read_public_key_file(io::real_system(), parts[0]));
  TRY(scheme, to_id(parts[1], "the scheme"));
  TRY(first, to_uint(parts[2], "the first ordinal", 999'999'999'999));
  TRY(last, to_uint(parts[3], "the last ordinal", 999'999'999'999));
  const bool allots = std::any_of(list.keys.view().begin(), list.keys.view().end(),
                                  [&](const format::TrustedKey& each) {
                                    return each.key == key && each.role == format::Role::allot;
                                  });
  if (!allots) {
    return Unexpected(usage_error("only a key of role allot gives out numbers", parts[0],
                                  "a key on the list in role allot",
                                  "add the key first: --key PERSON:allot:FILE"));
  }
  for (const format::Window& other : list.windows.view()) {
    if (other.scheme == scheme && first <= other.last && other.first <= last) {
      return Unexpected(usage_error("two windows of one scheme share numbers",
                                    fmt::format("{} to {}", first, last),
                                    fmt::format("outside {} to {}", other.first, other.last),
                                    "give each desk its own window"));
    }
  }
  if (last < first || !list.windows.add({key, scheme, first, last})) {
    return Unexpected(last < first ? bad_part("a window", text, "LAST not below FIRST")
                                   : full("windows", list.windows.capacity()));
  }
  return {};
}

Try<void> add_threshold(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 2) {
    return Unexpected(bad_part("a threshold", text, "ROLE:PERSONS"));
  }
  TRY(role, to_word(parts[0], format::role_words, "the role"));
  TRY(persons, to_uint(parts[1], "the number of persons", 8));
  if (!list.thresholds.add({static_cast<format::Role>(role), static_cast<std::uint8_t>(persons)})) {
    return Unexpected(full("thresholds", list.thresholds.capacity()));
  }
  return {};
}

template <class F>
Try<void> add_all(const std::vector<std::string>& texts, format::TrustList& list, F add) {
  for (const std::string& text : texts) {
    TRY_VOID(add(text, list));
  }
  return {};
}

void describe_list(const format::TrustList& list, std::size_t signatures) {
  say(fmt::format("trust list  sequence {}, root version {}, {} signature{}", list.sequence,
                  list.root_version, signatures, signatures == 1 ? "" : "s"));
  for (const format::TrustedKey& key : list.keys.view()) {
    say(fmt::format("  {:<11} {:<16} {} {}", format::role_words[static_cast<std::size_t>(key.role)],
                    key.person.view(), crypto::hex(key.key),
                    format::key_state_words[static_cast<std::size_t>(key.state)]));
  }
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

Ran run_trust_add(const TrustAddOptions& options) {
  const std::size_t additions = options.persons.size() + options.keys.size() +
                                options.products.size() + options.windows.size() +
                                options.thresholds.size();
  if (additions == 0) {
    return Unexpected(usage_error("there is nothing to add", "no addition",
                                  "--person, --key, --product, --window or --threshold"));
  }
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(time, time_or_now(options.time));
  TRY(trust, seal::read_trust_draft(io::real_system(), options.list, root));
  format::TrustList list = trust.list;
  if (!trust.file.signatures.empty()) { // a signed list is history: the next one follows it
    list.sequence += 1;
    list.previous.set(trust.digest);
  }
  list.time = time;
  TRY_VOID(add_persons(options.persons, list));
  TRY_VOID(add_all(options.keys, list, add_key));
  TRY_VOID(add_all(options.products, list, add_product));
  TRY_VOID(add_all(options.windows, list, add_window));
  TRY_VOID(add_all(options.thresholds, list, add_threshold));
  seal::sort_lists(list);
  TRY(text, seal::spell(list));
  TRY_VOID(seal::write_signed(io::real_system(), options.list, {text, {}}, io::IfExists::replace));
  describe_list(list, 0);
  note("next: cardseal trust sign; until then no card can be made with this list");
  return 0;
}

Ran run_trust_sign(const TrustSignOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(trust, seal::read_trust_draft(io::real_system(), options.list, root));
  TRY(key, open_key(options.key));
  TRY_VOID(seal::add_signature(trust.file, format::TrustList::kind, seal::keys_of(root.root), key));
  TRY_VOID(seal::write_signed(io::real_system(), options.list, trust.file, io::IfExists::replace));
  describe_list(trust.list, trust.file.signatures.size());
  return 0;
}

} // namespace cardseal::tool
