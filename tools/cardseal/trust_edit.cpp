#include "commands_trust.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/package.h"
#include "trust_parts.h"
#include "words.h"

namespace cardseal::tool {
namespace {

Try<void> add_trusted_key(const std::string& text, format::TrustList& list) {
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
  if (!format::knows_person(list, key.person)) {
    return Unexpected(usage_error("nobody of this id is on the trust list", parts[0],
                                  "the id of a person on the list",
                                  fmt::format("add the person too: --person {}:NAME", parts[0])));
  }
  for (const format::TrustedKey& known : list.keys.view()) {
    if (known.key == key.key) {
      return Unexpected(
          usage_error("this key is on the trust list already", parts[2], "a key that is not",
                      "one key has one role, and a revoked one stays revoked: make another key"));
    }
  }
  if (!list.keys.add(key)) {
    return Unexpected(seal::trust_full("keys", list.keys.capacity()));
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
    return Unexpected(seal::trust_full("products", list.products.capacity()));
  }
  return {};
}

Try<void> add_window(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  const bool engineering = parts.size() == 5 && parts[4] == "engineering";
  if (parts.size() != 4 && !engineering) {
    return Unexpected(
        bad_part("a window", text, "PUBLIC-KEY-FILE:SCHEME:FIRST:LAST, or with :engineering"));
  }
  TRY(key, crypto::read_public_key_file(io::real_system(), parts[0]));
  TRY(scheme, to_id(parts[1], "the scheme"));
  TRY(first, to_uint(parts[2], "the first ordinal", 999'999'999'999));
  TRY(last, to_uint(parts[3], "the last ordinal", 999'999'999'999));
  const format::WindowUse use =
      engineering ? format::WindowUse::engineering : format::WindowUse::shipment;
  return seal::add_window(list,
                          {.key = key, .scheme = scheme, .use = use, .first = first, .last = last});
}

// A role named again takes the new number.
Try<void> add_threshold(const std::string& text, format::TrustList& list) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 2) {
    return Unexpected(bad_part("a threshold", text, "ROLE:PERSONS"));
  }
  TRY(role, to_word(parts[0], format::role_words, "the role"));
  TRY(persons, to_uint(parts[1], "the number of persons", 8));
  if (persons == 0) {
    return Unexpected(bad_part("a threshold", text, "ROLE:PERSONS, 1 to 8 persons"));
  }
  const format::Threshold threshold{static_cast<format::Role>(role),
                                    static_cast<std::uint8_t>(persons)};
  for (format::Threshold& known : list.thresholds.view()) {
    if (known.role == threshold.role) {
      known = threshold;
      return {};
    }
  }
  if (!list.thresholds.add(threshold)) {
    return Unexpected(seal::trust_full("thresholds", list.thresholds.capacity()));
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

struct Change {
  seal::OwnerRoot root;
  seal::OwnerTrust was;
  format::TrustList list; // the draft to change
};

bool is_under_older_root(const format::TrustList& list, const seal::OwnerRoot& root) {
  return list.owner == root.owner && list.root_version < root.root.version;
}

// A list of an older root of the same owner must be in force there; its successor is under the
// newest.
Try<seal::OwnerTrust> read_to_change(const TrustChangeOptions& options,
                                     const seal::OwnerRoot& root) {
  TRY(form, seal::read_trust_form(io::real_system(), options.list));
  if (is_under_older_root(form.list, root)) {
    return seal::read_trust_of_chain(io::real_system(), options.list, root);
  }
  return seal::read_trust_draft(io::real_system(), options.list, root);
}

Try<Change> start_change(const TrustChangeOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(time, time_or_now(options.time));
  TRY(trust, read_to_change(options, root));
  if (!trust.file.signatures.empty() && !is_under_older_root(trust.list, root)) {
    // One that lacks signatures is a draft; one with a signature that does not hold was changed by
    // other means, and nobody knows what it takes back.
    const Try<seal::OwnerTrust> in_force = seal::read_trust(io::real_system(), options.list, root);
    if (!in_force && in_force.error().code != "reason-303") {
      return Unexpected(in_force.error());
    }
  }
  format::TrustList list = seal::next_draft(trust, time);
  list.root_version = root.root.version;
  return Change{std::move(root), std::move(trust), list};
}

// Everything was judged; only now is the list replaced. A list in force is kept beside it, so that
// whoever signs the next one sees what changes.
Try<void> finish_change(const TrustChangeOptions& options, Change& change) {
  io::System& system = io::real_system();
  seal::sort_lists(change.list);
  TRY(text, seal::spell(change.list));
  const bool in_force = !change.was.file.signatures.empty() &&
                        seal::read_trust_of_chain(system, options.list, change.root).has_value();
  if (in_force) {
    TRY_VOID(seal::write_signed(system, kept_before(options.list), change.was.file,
                                io::IfExists::replace));
  }
  return seal::write_signed(system, options.list, {text, {}}, io::IfExists::replace);
}

Error at_file(Error error, const std::string& file) {
  error.place.file = file;
  return error;
}

struct Stopped { // a package to withdraw
  format::Digest manifest{};
  std::string name; // "frost-node 2.4.1 "; empty when only the digest is known
  std::string given;
};

Try<Stopped> stopped_package(const std::string& file, const Change& change) {
  TRY(package, package::read(io::real_system(), file));
  if (package.manifest.owner != change.root.owner) {
    return Unexpected(error_from(refuse(Fault::manifest_owner), file));
  }
  const package::Judgement judged = package::judge(package, change.root, change.was.list);
  if (!judged.outcome.ok()) {
    note(fmt::format("{}: no station takes this file as it is (reason {}); look whether it is the "
                     "one that cards were made of",
                     escaped(file), static_cast<int>(judged.outcome.fault)));
  }
  return Stopped{package.manifest_digest, release_name(package.manifest) + "  ", file};
}

Try<Stopped> stopped_manifest(const std::string& text) {
  Stopped stopped{{}, "", text};
  if (!crypto::parse_digest(text, stopped.manifest)) {
    return Unexpected(usage_error("a package's digest is not in its form", text,
                                  "sha256: and 64 lower-case hex digits",
                                  "cardseal show P.crp prints it as package; it is not the file's "
                                  "own checksum"));
  }
  return stopped;
}

Try<std::vector<Stopped>> packages_of(const TrustWithdrawOptions& options, const Change& change) {
  std::vector<Stopped> all;
  for (const std::string& file : options.packages) {
    TRY(stopped, stopped_package(file, change));
    all.push_back(stopped);
  }
  for (const std::string& text : options.manifests) {
    TRY(stopped, stopped_manifest(text));
    all.push_back(stopped);
  }
  return all;
}

// What a person has to know of a key that counts no more.
std::string stopped_by(const format::TrustList& list, const std::string& file) {
  const auto key = crypto::read_public_key_file(io::real_system(), file);
  for (const format::TrustedKey& each : list.keys.view()) {
    if (key && each.key == *key && each.role == format::Role::allot) {
      return "            cards that were made with it are refused by stations with the new list";
    }
  }
  return "            packages with a sign-off by it are refused by stations with the new list: "
         "sign a "
         "copy as it was packed";
}

void note_next() {
  note("next: cardseal trust sign; a station learns of it from a card with the signed list");
}

} // namespace

Ran run_trust_add(const TrustAddOptions& options) {
  const std::size_t additions = options.persons.size() + options.keys.size() +
                                options.products.size() + options.windows.size() +
                                options.thresholds.size();
  TRY(change, start_change(options.change));
  if (additions == 0 && !is_under_older_root(change.was.list, change.root)) {
    return Unexpected(usage_error("there is nothing to add", "no addition",
                                  "--person, --key, --product, --window or --threshold"));
  }
  format::TrustList& list = change.list;
  TRY_VOID(add_persons(options.persons, list));
  TRY_VOID(add_all(options.keys, list, add_trusted_key));
  TRY_VOID(add_all(options.products, list, add_product));
  TRY_VOID(add_all(options.windows, list, add_window));
  TRY_VOID(add_all(options.thresholds, list, add_threshold));
  TRY_VOID(finish_change(options.change, change));
  describe_list(list, 0);
  note("next: cardseal trust sign; until then no card can be made with this list");
  return 0;
}

Ran run_trust_revoke(const TrustRevokeOptions& options) {
  TRY(change, start_change(options.change));
  const auto last = options.even_last ? seal::LastKey::revoke : seal::LastKey::keep;
  for (const std::string& file : options.keys) {
    TRY(key, crypto::read_public_key_file(io::real_system(), file));
    if (Try<void> revoked = seal::revoke(change.list, key, last); !revoked) {
      return Unexpected(at_file(revoked.error(), file));
    }
  }
  TRY_VOID(finish_change(options.change, change));
  for (const std::string& file : options.keys) {
    say(fmt::format("revoked     {}", file));
    say(stopped_by(change.list, file));
  }
  describe_list(change.list, 0);
  note_next();
  return 0;
}

Ran run_trust_withdraw(const TrustWithdrawOptions& options) {
  if (options.packages.empty() && options.manifests.empty()) {
    return Unexpected(
        usage_error("there is nothing to withdraw", "no package", "--package or --manifest"));
  }
  TRY(change, start_change(options.change));
  TRY(stopped, packages_of(options, change));
  for (const Stopped& each : stopped) {
    if (Try<void> done = seal::withdraw(change.list, each.manifest); !done) {
      return Unexpected(at_file(done.error(), each.given));
    }
  }
  TRY_VOID(finish_change(options.change, change));
  for (const Stopped& each : stopped) {
    say(fmt::format("withdrawn   {}{}", each.name, crypto::spell_digest(each.manifest)));
  }
  describe_list(change.list, 0);
  note_next();
  return 0;
}

} // namespace cardseal::tool
