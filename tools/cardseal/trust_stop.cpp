// A withdrawal as a file of its own.
#include "commands_trust.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "elsewhere.h"
#include "package/package.h"
#include "seal/withdrawal.h"
#include "trust_parts.h"
#include "words.h"

namespace cardseal::tool {
namespace {

Try<format::Digest> to_digest(const std::string& text, const char* what) {
  format::Digest digest{};
  if (!crypto::parse_digest(text, digest)) {
    return Unexpected(usage_error(fmt::format("{}'s digest is not in its form", what), text,
                                  "sha256: and 64 lower-case hex digits"));
  }
  return digest;
}

struct Target {
  format::Withdrawal withdrawal; // only what it stops
  std::string name;              // what a person types
};

// The first digits are enough to see that it is the right one.
std::string short_name(const char* what, ByteView bytes) {
  return fmt::format("{} {}", what, crypto::hex(bytes).substr(0, 8));
}

Try<Target> package_target(const std::string& file, const Owner& owner) {
  TRY(package, package::read(io::real_system(), file));
  if (package.manifest.owner != owner.root.owner) {
    return Unexpected(error_from(refuse(Fault::manifest_owner), file));
  }
  Target out;
  out.withdrawal.manifest.set(package.manifest_digest);
  out.name = release_name(package.manifest);
  return out;
}

Try<Target> allotment_target(const std::string& given) {
  Target out;
  if (given.starts_with("sha256:")) {
    TRY(digest, to_digest(given, "an allotment"));
    out.withdrawal.allotment.set(digest);
  } else {
    TRY(text, io::read_file(io::real_system(), given, format::Allotment::limit));
    format::Allotment allotment;
    const Outcome outcome = format::decode(text, allotment);
    if (!outcome.ok()) {
      return Unexpected(error_from(outcome, given));
    }
    out.withdrawal.allotment.set(crypto::sha256(text));
  }
  out.name = short_name("allotment", out.withdrawal.allotment.value);
  return out;
}

Try<Target> key_target(const std::string& file, const Owner& owner) {
  TRY(key, crypto::read_public_key_file(io::real_system(), file));
  Target out;
  out.withdrawal.key.set(key);
  for (const format::TrustedKey& known : owner.trust.list.keys.view()) {
    if (known.key == key) {
      // A person may hold several keys, so the name alone would not tell which one is stopped.
      out.name = fmt::format("key of {} {}", known.person.view(), crypto::hex(key).substr(0, 8));
      return out;
    }
  }
  return Unexpected(usage_error("this key is not on the trust list, so it lets nothing through",
                                crypto::hex(key), "a key that the list holds"));
}

Try<Target> target_of(const TrustStopOptions& options, const Owner& owner) {
  const int given = !options.package.empty() + !options.manifest.empty() +
                    !options.allotment.empty() + !options.lost_key.empty();
  if (given != 1) {
    return Unexpected(usage_error("one withdrawal stops one thing", fmt::format("{} things", given),
                                  "one of --package, --manifest, --allotment and --lost-key"));
  }
  if (!options.package.empty()) {
    return package_target(options.package, owner);
  }
  if (!options.allotment.empty()) {
    return allotment_target(options.allotment);
  }
  if (!options.lost_key.empty()) {
    return key_target(options.lost_key, owner);
  }
  TRY(digest, to_digest(options.manifest, "a package"));
  Target out;
  out.withdrawal.manifest.set(digest);
  out.name = short_name("package", digest);
  return out;
}

// A withdrawal, complete but for its signature.
struct Stop {
  format::Withdrawal withdrawal;
  std::string name; // what a person types
  io::Bytes text;

  ToSign to_sign() const {
    return {format::Withdrawal::kind, text, "withdrawal", "options, --time and trust list"};
  }
};

Try<Stop> make_stop(const TrustStopOptions& options, const format::Key& key) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(target, target_of(options, owner));
  TRY(person, seal::stopping_person(owner.trust, key,
                                    options.key.file.empty() ? options.elsewhere.public_key
                                                             : options.key.file));
  TRY(reason, to_text<96>(options.reason, "the reason"));
  TRY(time, time_or_now(options.time));
  format::Withdrawal& withdrawal = target.withdrawal;
  withdrawal.owner = owner.root.owner;
  withdrawal.person = person;
  withdrawal.reason = reason;
  withdrawal.time = time;
  TRY(text, seal::spell(withdrawal));
  return Stop{withdrawal, target.name, std::move(text)};
}

void show(const Stop& stop) {
  say(fmt::format("stops       {}", seal::stopped_words(stop.withdrawal)));
  say(fmt::format("reason      {}", escaped(stop.withdrawal.reason.view())));
  say(fmt::format("signed by   {}", stop.withdrawal.person.view()));
  note("for good: no station that met it takes it back");
}

Ran write_stop(const TrustStopOptions& options, const Stop& stop,
               const crypto::Signature& signature) {
  TRY_VOID(seal::write_signed(io::real_system(), options.output, {stop.text, {signature}},
                              io::IfExists::refuse));
  say(fmt::format("withdrawal  {}", options.output));
  note(fmt::format("next: cardseal card make --withdrawal {}: any card takes it to a station, also "
                   "one that the station refuses; put it on the trust list as well, cardseal trust "
                   "{}",
                   options.output, stop.withdrawal.key.present ? "revoke" : "withdraw"));
  return 0;
}

Ran stop_here(const TrustStopOptions& options) {
  TRY(key, open_key(options.key));
  TRY(stop, make_stop(options, key.public_key()));
  show(stop);
  TRY_VOID(confirm(stop.name, options.confirm));
  return write_stop(options, stop, seal::sign(key, format::Withdrawal::kind, stop.text));
}

Ran stop_elsewhere(const TrustStopOptions& options, Way way) {
  if (way == Way::attach && options.time.empty()) {
    return Unexpected(time_missing());
  }
  TRY(key, crypto::read_public_key_file(io::real_system(), options.elsewhere.public_key));
  TRY(stop, make_stop(options, key));
  show(stop);
  if (way == Way::attach) {
    TRY(signature, read_attached(options.elsewhere, key, stop.to_sign()));
    return write_stop(options, stop, signature);
  }
  TRY_VOID(confirm(stop.name, options.confirm));
  TRY_VOID(write_signed_bytes(options.elsewhere, stop.to_sign()));
  note(fmt::format("next: sign that file (Ed25519, 64 raw bytes), then give the same options with "
                   "--attach SIGNATURE for --signed-bytes, and --time {}",
                   words(stop.withdrawal.time)));
  return 0;
}

} // namespace

Ran run_trust_stop(const TrustStopOptions& options) {
  TRY(way, way_of(options.key, options.elsewhere));
  return way == Way::here ? stop_here(options) : stop_elsewhere(options, way);
}

} // namespace cardseal::tool
