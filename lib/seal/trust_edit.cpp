#include "seal/trust_edit.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::seal {
namespace {

using format::KeyState;
using format::Role;
using format::TrustedKey;

Error edit_error(ErrorKind kind, const char* code, std::string what, std::string found,
                 std::string expected, std::string hint) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

TrustedKey* find_key(format::TrustList& list, const format::Key& key) {
  for (TrustedKey& each : list.keys.view()) {
    if (each.key == key) {
      return &each;
    }
  }
  return nullptr;
}

// As in trust/package_rules.cpp: one is built in, a list can only ask for more.
std::size_t needed(const format::TrustList& list, Role role) {
  for (const format::Threshold& threshold : list.thresholds.view()) {
    if (threshold.role == role && threshold.persons > 1) {
      return threshold.persons;
    }
  }
  return 1;
}

// Different persons who can sign for the product in the role.
std::vector<std::string_view> signers(const format::TrustList& list, Role role,
                                      const format::Id& product) {
  std::vector<std::string_view> persons;
  for (const TrustedKey& key : list.keys.view()) {
    const bool scoped = !key.product.present || key.product.value == product;
    if (key.state == KeyState::active && key.role == role && scoped) {
      persons.push_back(key.person.view());
    }
  }
  std::sort(persons.begin(), persons.end());
  persons.erase(std::unique(persons.begin(), persons.end()), persons.end());
  return persons;
}

struct Standing { // of one role for one product
  Role role;
  std::size_t persons;
  std::size_t needed;
  bool enough() const { return persons >= needed; }
};

Standing standing(const format::TrustList& list, Role role, const format::Id& product) {
  return {role, signers(list, role, product).size(), needed(list, role)};
}

// Nobody may sign in both roles (reason 343), so the two together need that many persons.
bool enough_together(const format::TrustList& list, const format::Id& product) {
  std::vector<std::string_view> all = signers(list, Role::release, product);
  const std::vector<std::string_view> quality = signers(list, Role::quality, product);
  all.insert(all.end(), quality.begin(), quality.end());
  std::sort(all.begin(), all.end());
  all.erase(std::unique(all.begin(), all.end()), all.end());
  return all.size() >= needed(list, Role::release) + needed(list, Role::quality);
}

bool can_be_signed(const format::TrustList& list, Role role, const format::Id& product) {
  if (role == Role::engineering) {
    return standing(list, role, product).enough();
  }
  return standing(list, Role::release, product).enough() &&
         standing(list, Role::quality, product).enough() && enough_together(list, product);
}

Error role_empty(const format::TrustList& after, Role role, const format::Id& product) {
  const Standing left = standing(after, role, product);
  std::string found = fmt::format("{} person{} left in role {}", left.persons,
                                  left.persons == 1 ? "" : "s", word_of(role));
  std::string expected = fmt::format("at least {}", left.needed);
  if (left.enough()) {
    found += ", none of whom may sign in both roles";
    expected = fmt::format("{} different persons for release and quality",
                           needed(after, Role::release) + needed(after, Role::quality));
  }
  return edit_error(
      ErrorKind::refused, "role-empty",
      fmt::format("without this key no package of {} can be signed off", product.view()),
      std::move(found), std::move(expected),
      "add the key that takes its place first: cardseal trust add --key; where "
      "that can't wait, --even-last revokes it all the same");
}

Try<void> check_somebody_left(const format::TrustList& before, const format::TrustList& after,
                              Role role) {
  if (role == Role::allot || role == Role::withdraw) {
    return {}; // no number of persons is asked of these
  }
  for (const format::Product& product : after.products.view()) {
    if (can_be_signed(before, role, product.id) && !can_be_signed(after, role, product.id)) {
      return Unexpected(role_empty(after, role, product.id));
    }
  }
  return {};
}

bool may_allot(const format::TrustList& list, const format::Key& key) {
  return std::any_of(list.keys.view().begin(), list.keys.view().end(), [&](const auto& each) {
    return each.key == key && each.role == Role::allot && each.state == KeyState::active;
  });
}

} // namespace

Error trust_full(std::string_view of_what, std::size_t most) {
  return edit_error(ErrorKind::config, "trust-full",
                    fmt::format("a station can't hold more {}", of_what), "",
                    fmt::format("at most {}", most),
                    "nothing on a list can be taken back: a new root is the only way on");
}

format::TrustList next_draft(const OwnerTrust& trust, const Utc& time) {
  format::TrustList list = trust.list;
  if (!trust.file.signatures.empty()) {
    list.sequence += 1;
    list.previous.set(trust.digest);
  }
  list.time = time;
  return list;
}

Try<void> revoke(format::TrustList& list, const format::Key& key, LastKey last) {
  format::TrustList after = list;
  TrustedKey* const trusted = find_key(after, key);
  if (trusted == nullptr) {
    return Unexpected(edit_error(
        ErrorKind::config, "key-unknown", "this key is not on the trust list", crypto::hex(key),
        "a key that the list holds", "cardseal show LIST prints the keys that it holds"));
  }
  if (trusted->state == KeyState::revoked) {
    return Unexpected(edit_error(
        ErrorKind::refused, "key-revoked", "this key is revoked already",
        fmt::format("the key of {} in role {}", trusted->person.view(), word_of(trusted->role)),
        "an active key", "nothing is left to do for it"));
  }
  trusted->state = KeyState::revoked;
  if (last == LastKey::keep) {
    if (Try<void> left = check_somebody_left(list, after, trusted->role); !left) {
      return left;
    }
  }
  list = after;
  return {};
}

Try<void> withdraw(format::TrustList& list, const format::Digest& manifest) {
  for (const format::Digest& withdrawn : list.withdrawn.view()) {
    if (withdrawn == manifest) {
      return Unexpected(edit_error(
          ErrorKind::refused, "withdrawn-already", "this package is withdrawn already",
          crypto::spell_digest(manifest), "a package that is not", "nothing is left to do for it"));
    }
  }
  if (!list.withdrawn.add(manifest)) {
    Error error = trust_full("withdrawn packages", list.withdrawn.capacity());
    // A withdrawal stays on the list, so its room can't be had back.
    error.hint = "raise the product's lowest sequence instead: cardseal trust add --product";
    return Unexpected(std::move(error));
  }
  return {};
}

Try<void> add_window(format::TrustList& list, const format::Window& window) {
  if (!may_allot(list, window.key)) {
    return Unexpected(edit_error(ErrorKind::usage, "window-key",
                                 "only a key of role allot gives out numbers",
                                 crypto::hex(window.key), "an active key on the list in role allot",
                                 "add the key first: --key PERSON:allot:FILE"));
  }
  const std::string range = fmt::format("{} to {}", window.first, window.last);
  if (window.last < window.first) {
    return Unexpected(edit_error(ErrorKind::usage, "window-form", "a window is not in its form",
                                 range, "LAST not below FIRST", ""));
  }
  for (const format::Window& other : list.windows.view()) {
    if (other.scheme == window.scheme && window.first <= other.last && other.first <= window.last) {
      return Unexpected(edit_error(ErrorKind::usage, "window-shared",
                                   "two windows of one scheme share numbers", range,
                                   fmt::format("outside {} to {}", other.first, other.last),
                                   "give each desk its own window"));
    }
  }
  if (!list.windows.add(window)) {
    return Unexpected(trust_full("windows", list.windows.capacity()));
  }
  return {};
}

} // namespace cardseal::seal
