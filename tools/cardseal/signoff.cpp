#include "signoff.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "io/clock.h"
#include "package/deviations.h"

namespace cardseal::tool {
namespace {

const std::string& key_file_of(const SignOptions& options) {
  return options.key.file.empty() ? options.elsewhere.public_key : options.key.file;
}

constexpr std::string_view default_meaning(format::Role role) {
  switch (role) {
  case format::Role::release:
    return "prepared and checked for release";
  case format::Role::quality:
    return "approved for use in production";
  default:
    return "for engineering only, not for shipment";
  }
}

Try<format::Maybe<format::OrdinalRange>> to_range(const std::string& text) {
  format::Maybe<format::OrdinalRange> range;
  if (text.empty()) {
    return range;
  }
  const std::vector<std::string> parts = split(text, '-');
  if (parts.size() != 2) {
    return Unexpected(usage_error("the numbers are not a range", text, "FIRST-LAST, as ordinals"));
  }
  TRY(first, to_uint(parts[0], "the first ordinal", format::max_ordinal));
  TRY(last, to_uint(parts[1], "the last ordinal", format::max_ordinal));
  range.set({first, last});
  return range;
}

const format::TrustedKey* find_key(const format::TrustList& list, const format::Key& key) {
  for (const format::TrustedKey& trusted : list.keys.view()) {
    if (trusted.key == key) {
      return &trusted;
    }
  }
  return nullptr;
}

Error key_error(const SignOptions& options, const format::TrustedKey* trusted) {
  Error error;
  error.kind = ErrorKind::config;
  error.code = "key-role";
  error.place.file = key_file_of(options);
  error.what = "this key is not on the trust list";
  error.expected = "a key enrolled for role " + options.role;
  error.hint = "sign with the key that was enrolled for the role";
  if (trusted != nullptr) {
    error.what = "this key may not sign in this role";
    error.found = format::role_words[static_cast<std::size_t>(trusted->role)];
  }
  return error;
}

// A second sign-off by one key counts for nothing and takes the place of one that would.
Try<void> check_not_signed(const package::Package& package, const format::Signoff& s) {
  for (const package::SignoffEntry& entry : package.signoffs) {
    if (entry.signoff.key == s.key) {
      return Unexpected(
          at(refused("already-signed", "this key has signed the package already",
                     fmt::format("a sign-off by {} of {}", entry.signoff.person.view(),
                                 words(entry.signoff.time)),
                     "", "nothing was signed; for other limits or reasons pack the release again"),
             package.file));
    }
  }
  return {};
}

// The key decides who signs; the role asked for must be the one it was enrolled for.
Try<format::Signoff> make_signoff(const SignOptions& options, const package::Package& package,
                                  const Owner& owner, const format::Key& key) {
  TRY(role, to_word(options.role, format::role_words, "the role"));
  const format::TrustedKey* trusted = find_key(owner.trust.list, key);
  if (trusted == nullptr || trusted->role != static_cast<format::Role>(role)) {
    return Unexpected(key_error(options, trusted));
  }
  const format::Manifest& m = package.manifest;
  format::Signoff s;
  s.owner = owner.root.owner;
  s.manifest = package.manifest_digest;
  s.product = m.product;
  s.epoch = m.epoch;
  s.sequence = m.sequence;
  s.role = trusted->role;
  s.person = trusted->person;
  s.key = key;
  const std::string meaning =
      options.meaning.empty() ? std::string(default_meaning(s.role)) : options.meaning;
  TRY(meaning_text, to_text<64>(meaning, "the meaning"));
  TRY(reason, to_text<96>(options.reason, "the reason"));
  TRY(time, time_or_now(options.time));
  // A claimed time brings no deviation back.
  TRY_VOID(package::check_deviations_at(package, std::max(time, io::now())));
  TRY(numbers, to_range(options.numbers));
  s.meaning = meaning_text;
  s.reason = reason;
  s.time = time;
  if (!package.signoffs.empty()) {
    s.previous.set(package.signoffs.back().digest);
  }
  s.trust_sequence = owner.trust.list.sequence;
  if (options.units_a_station) {
    s.units_a_station.set(*options.units_a_station);
  }
  if (options.stations) {
    s.stations.set(*options.stations);
  }
  s.numbers = numbers;
  s.plain_file = options.plain_file ? format::YesNo::yes : format::YesNo::no;
  s.tool.set(tool_name);
  return s;
}

} // namespace

// Sign-offs come in their order: what stands after this one may lack more of the same role, or the
// quality sign-off after the release's, and nothing else.
Try<void> check_progress(const io::Bytes& signed_package, const Owner& owner,
                         const format::Signoff& s, const std::string& file) {
  const package::Judgement judged =
      package::judge_bytes(signed_package, owner.root, owner.trust.list);
  const Fault fault = judged.outcome.fault;
  const format::Role role = s.role;
  const bool more_release = role == format::Role::release &&
                            (fault == Fault::signoff_release || fault == Fault::signoff_quality);
  const bool more_quality = role == format::Role::quality && fault == Fault::signoff_quality;
  const bool more_engineering =
      role == format::Role::engineering && fault == Fault::signoff_engineering;
  if (judged.outcome.ok() || more_release || more_quality || more_engineering) {
    return {};
  }
  Error error = package::refusal(judged.outcome, file);
  if (fault == Fault::signoff_one_person) {
    error.found = fmt::format("{} in both roles", s.person.view());
    error.expected = "one person for release, another for quality";
  }
  return Unexpected(std::move(error));
}

Try<Matter> read_matter(const SignOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(package, package::read(io::real_system(), options.package));
  return Matter{std::move(owner), std::move(package)};
}

Try<Request> make_request(const SignOptions& options, Matter matter, const format::Key& key) {
  TRY(signoff, make_signoff(options, matter.package, matter.owner, key));
  TRY_VOID(check_not_signed(matter.package, signoff));
  TRY(text, seal::spell(signoff));
  return Request{std::move(matter), signoff, std::move(text)};
}

Try<io::Bytes> with_signature(const Request& request, const crypto::Signature& signature) {
  const package::Package& package = request.matter.package;
  TRY(with, package::with_signoff(package, request.text, signature));
  TRY_VOID(check_progress(with, request.matter.owner, request.signoff, package.file));
  return std::move(with);
}

Try<void> rehearse(const Request& request) {
  const package::Package& package = request.matter.package;
  TRY(key, crypto::SigningKey::generate());
  Owner owner = request.matter.owner;
  for (format::TrustedKey& trusted : owner.trust.list.keys.view()) {
    if (trusted.key == request.signoff.key) {
      trusted.key = key.public_key();
    }
  }
  format::Signoff signoff = request.signoff;
  signoff.key = key.public_key();
  TRY(text, seal::spell(signoff));
  TRY(with, package::with_signoff(package, text, seal::sign(key, format::Signoff::kind, text)));
  return check_progress(with, owner, signoff, package.file);
}

} // namespace cardseal::tool
