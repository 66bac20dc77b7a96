#include "seal/trust_diff.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::seal {
namespace {

constexpr std::uint64_t most_lists_skipped = 1000; // a number used up can't be had back

using format::KeyState;
using format::TrustedKey;
using format::TrustList;

std::string words(const Utc& time) {
  char out[utc_length];
  return {out, spell_utc(time, out)};
}

std::string words(const format::Maybe<format::Digest>& digest) {
  return digest.present ? crypto::spell_digest(digest.value) : "none";
}

std::string persons(std::size_t count) {
  return fmt::format("{} person{}", count, count == 1 ? "" : "s");
}

// What a key may do, without its state.
std::string power(const TrustedKey& key) {
  return fmt::format("{} in role {}, {}", key.person.view(), word_of(key.role),
                     key.product.present ? fmt::format("product {}", key.product.value.view())
                                         : "every product");
}

std::string words(const TrustedKey& key) {
  return fmt::format("{}, {}", power(key), crypto::hex(key.key));
}

std::string words(const format::Product& product) {
  return fmt::format("epoch {}, lowest sequence {}", product.epoch, product.floor);
}

std::string words(const format::Window& window) {
  return fmt::format("{} {} to {} for {}, {}", window.scheme.view(), window.first, window.last,
                     format::window_use_words[static_cast<std::size_t>(window.use)],
                     crypto::hex(window.key));
}

template <class List, class Same>
auto find(const List& list, Same same) {
  const auto all = list.view();
  const auto at = std::find_if(all.begin(), all.end(), same);
  return at == all.end() ? nullptr : &*at;
}

const TrustedKey* find_key(const TrustList& list, const format::Key& key) {
  return find(list.keys, [&](const TrustedKey& each) { return each.key == key; });
}

bool holds(const TrustList& list, const format::Digest& withdrawn) {
  return find(list.withdrawn, [&](const format::Digest& each) { return each == withdrawn; }) !=
         nullptr;
}

bool covers(const format::Window& wide, const format::Window& narrow) {
  return wide.key == narrow.key && wide.scheme == narrow.scheme && wide.use == narrow.use &&
         wide.first <= narrow.first && wide.last >= narrow.last;
}

bool same(const format::Window& a, const format::Window& b) {
  return covers(a, b) && covers(b, a);
}

trust::ListMark mark(const OwnerTrust& trust) {
  return {trust.list.root_version, trust.list.sequence, trust.digest};
}

class Comparison {
public:
  Comparison(const OwnerTrust& before, const OwnerTrust& after)
      : before_(before), after_(after), old_(before.list), new_(after.list) {}

  std::vector<TrustChange> run() {
    tell_owner();
    tell_withdrawn();
    tell_keys();
    tell_windows();
    tell_products();
    tell_thresholds();
    tell_persons();
    tell_sequence();
    std::stable_sort(told_.begin(), told_.end(),
                     [](const TrustChange& a, const TrustChange& b) { return a.what < b.what; });
    return std::move(told_);
  }

private:
  void tell(Change what, std::string text) { told_.push_back({what, std::move(text)}); }

  void tell_owner() {
    if (old_.owner != new_.owner) {
      tell(Change::owner,
           fmt::format("another owner: was {}, now {}", crypto::spell_digest(old_.owner),
                       crypto::spell_digest(new_.owner)));
    }
  }

  void tell_withdrawn() {
    for (const format::Digest& each : old_.withdrawn.view()) {
      if (!holds(new_, each)) {
        tell(Change::withdrawal_lifted,
             fmt::format("no longer withdrawn: {}", crypto::spell_digest(each)));
      }
    }
    for (const format::Digest& each : new_.withdrawn.view()) {
      if (!holds(old_, each)) {
        tell(Change::package_withdrawn,
             fmt::format("package withdrawn: {}", crypto::spell_digest(each)));
      }
    }
  }

  void tell_key(const TrustedKey& was, const TrustedKey& is) {
    if (power(was) != power(is)) {
      tell(Change::key_changed, fmt::format("key changed: was {}, now {}", power(was), words(is)));
    }
    if (was.state != is.state) {
      const bool revoked = is.state == KeyState::revoked;
      tell(revoked ? Change::key_revoked : Change::key_restored,
           fmt::format("{}: {}", revoked ? "key revoked" : "revoked key counts again", words(is)));
    }
  }

  void tell_keys() {
    for (const TrustedKey& was : old_.keys.view()) {
      if (const TrustedKey* is = find_key(new_, was.key)) {
        tell_key(was, *is);
      } else {
        tell(Change::key_removed, fmt::format("key gone: {}", words(was)));
      }
    }
    for (const TrustedKey& is : new_.keys.view()) {
      if (find_key(old_, is.key) == nullptr) {
        tell(Change::key_added, fmt::format("key added: {}{}", words(is),
                                            is.state == KeyState::revoked ? ", revoked" : ""));
      }
    }
  }

  void tell_windows() {
    for (const format::Window& was : old_.windows.view()) {
      if (!find(new_.windows, [&](const auto& is) { return covers(is, was); })) {
        tell(Change::window_cut, fmt::format("numbers taken away: {}", words(was)));
      }
    }
    for (const format::Window& is : new_.windows.view()) {
      if (!find(old_.windows, [&](const auto& was) { return same(is, was); })) {
        const format::Window* grown =
            find(old_.windows, [&](const auto& was) { return covers(is, was); });
        tell(Change::window_added, grown ? fmt::format("numbers added: {}, before {} to {}",
                                                       words(is), grown->first, grown->last)
                                         : fmt::format("numbers added: {}", words(is)));
      }
    }
  }

  void tell_product(const format::Product& was, const format::Product& is) {
    const bool lower = is.epoch < was.epoch || (is.epoch == was.epoch && is.floor < was.floor);
    if (was.epoch != is.epoch || was.floor != is.floor) {
      tell(lower ? Change::product_lowered : Change::product_raised,
           fmt::format("product {} {}: was {}, now {}", is.id.view(),
                       lower ? "goes back" : "goes on", words(was), words(is)));
    }
  }

  void tell_products() {
    for (const format::Product& was : old_.products.view()) {
      if (const auto* is =
              find(new_.products, [&](const auto& each) { return each.id == was.id; })) {
        tell_product(was, *is);
      } else {
        tell(Change::product_removed,
             fmt::format("product gone: {}, {}", was.id.view(), words(was)));
      }
    }
    for (const format::Product& is : new_.products.view()) {
      if (!find(old_.products, [&](const auto& each) { return each.id == is.id; })) {
        tell(Change::product_added, fmt::format("product added: {}, {}", is.id.view(), words(is)));
      }
    }
  }

  // One person is asked for where the list says nothing (trust/package_rules.cpp).
  void tell_thresholds() {
    for (std::size_t i = 0; i < format::role_words.size(); ++i) {
      const auto role = static_cast<format::Role>(i);
      const auto of_role = [&](const format::Threshold& each) { return each.role == role; };
      const format::Threshold* was = find(old_.thresholds, of_role);
      const format::Threshold* is = find(new_.thresholds, of_role);
      const unsigned before = was ? was->persons : 1;
      const unsigned after = is ? is->persons : 1;
      if (before != after) {
        tell(after < before ? Change::threshold_lowered : Change::threshold_raised,
             fmt::format("{} needed in role {}: was {}, now {}",
                         after < before ? "fewer persons" : "more persons", word_of(role),
                         persons(before), persons(after)));
      } else if ((was != nullptr) != (is != nullptr)) {
        tell(Change::threshold_stated,
             fmt::format("{} needed in role {}: {}, as is the rule without it", persons(after),
                         word_of(role), is ? "now stated" : "no longer stated"));
      }
    }
  }

  void tell_persons() {
    for (const format::Person& was : old_.persons.view()) {
      const auto* is = find(new_.persons, [&](const auto& each) { return each.id == was.id; });
      if (is == nullptr) {
        tell(Change::person,
             fmt::format("person gone: {}, {}", was.id.view(), escaped(was.name.view())));
      } else if (!(is->name == was.name)) {
        tell(Change::person, fmt::format("person {}: was {}, now {}", was.id.view(),
                                         escaped(was.name.view()), escaped(is->name.view())));
      }
    }
    for (const format::Person& is : new_.persons.view()) {
      if (!find(old_.persons, [&](const auto& each) { return each.id == is.id; })) {
        tell(Change::person,
             fmt::format("person added: {}, {}", is.id.view(), escaped(is.name.view())));
      }
    }
  }

  void tell_sequence() {
    tell_place();
    tell_predecessor();
    if (old_.time != new_.time) {
      tell(Change::time,
           fmt::format("claimed time: was {}, now {}", words(old_.time), words(new_.time)));
    }
  }

  // By the rule of stations.
  void tell_place() {
    trust::Standing standing = trust::Standing::same;
    const Outcome outcome = trust::compare_lists(mark(before_), mark(after_), standing);
    if (!outcome.ok()) {
      tell(Change::sequence_shared,
           fmt::format("both are sequence {}: a station that met one refuses the other (reason {})",
                       new_.sequence, static_cast<unsigned>(outcome.fault)));
    }
    if (standing == trust::Standing::older) {
      tell(Change::sequence_back,
           fmt::format("it goes back: was root version {}, sequence {}, now {}, {}; stations that "
                       "met the other ignore it",
                       old_.root_version, old_.sequence, new_.root_version, new_.sequence));
    } else if (standing == trust::Standing::newer) {
      tell_newer();
    }
  }

  void tell_newer() {
    if (old_.root_version != new_.root_version) {
      tell(Change::root_version,
           fmt::format("root version: was {}, now {}", old_.root_version, new_.root_version));
    }
    if (old_.sequence != new_.sequence) {
      const bool gap = new_.sequence > old_.sequence + 1;
      tell(Change::sequence, fmt::format("sequence: was {}, now {}{}", old_.sequence, new_.sequence,
                                         gap ? "; what lies between is not seen here" : ""));
    }
  }

  void tell_predecessor() {
    const bool follows = new_.previous.present && new_.previous.value == before_.digest;
    const bool first = old_.sequence == 0 && !new_.previous.present;
    if (follows || first) {
      return;
    }
    if (old_.sequence + 1 == new_.sequence) {
      tell(Change::other_predecessor,
           fmt::format("it follows another list: {}, not {}", words(new_.previous),
                       crypto::spell_digest(before_.digest)));
    } else if (!(old_.previous == new_.previous)) {
      tell(Change::previous,
           fmt::format("list before: was {}, now {}", words(old_.previous), words(new_.previous)));
    }
  }

  const OwnerTrust& before_;
  const OwnerTrust& after_;
  const TrustList& old_;
  const TrustList& new_;
  std::vector<TrustChange> told_;
};

} // namespace

std::vector<TrustChange> changes(const OwnerTrust& before, const OwnerTrust& after) {
  return Comparison(before, after).run();
}

OwnerTrust nothing_before(const OwnerTrust& first) {
  OwnerTrust nothing;
  nothing.list.owner = first.list.owner;
  nothing.list.root_version = first.list.root_version;
  nothing.list.sequence = 0;
  nothing.list.time = first.list.time;
  return nothing;
}

Try<void> check_follows(const OwnerTrust& before, const OwnerTrust& after) {
  const std::vector<TrustChange> all = changes(before, after);
  const bool jumps = after.list.sequence > before.list.sequence + most_lists_skipped;
  if ((all.empty() || all[0].allowed()) && !jumps) {
    return {};
  }
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "trust-follows";
  error.what = "this list may not take the place of the one before";
  error.found = jumps
                    ? fmt::format("sequence {} after {}", after.list.sequence, before.list.sequence)
                    : all[0].text;
  error.expected = jumps ? fmt::format("at most {} further", most_lists_skipped)
                         : "a list that takes nothing back";
  error.hint = "start again from the list before, with cardseal trust add, revoke or withdraw";
  return Unexpected(std::move(error));
}

} // namespace cardseal::seal
