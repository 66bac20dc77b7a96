// A package judged by one trust list, or by the list of its day and by today's.
#include "verify_package.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/explain.h"
#include "view/verdict_json.h"
#include "words.h"

namespace cardseal::tool {
namespace {

bool is_about_one_signoff(Fault fault) {
  const bool one_is_missing = fault == Fault::signoff_release || fault == Fault::signoff_quality ||
                              fault == Fault::signoff_engineering;
  return fault >= Fault::signature_form && fault < Fault::manifest_owner && !one_is_missing;
}

struct Judged {   // by one list
  const char* of; // "its day", "today"; empty when there is only one
  seal::OwnerRoot root;
  seal::OwnerTrust trust;
  package::Judgement judgement;
};

// A list that was signed under an earlier root is judged under that one: it is the list of then.
Try<Judged> judge_by_then(const std::string& list, const seal::OwnerRoot& newest,
                          const io::Bytes& bytes) {
  TRY(form, seal::read_trust_form(io::real_system(), list));
  TRY(root, seal::root_of_version(newest, form.list.root_version, list));
  TRY(trust, seal::read_trust(io::real_system(), list, root));
  const package::Judgement judgement = package::judge_bytes(bytes, root, trust.list);
  return Judged{"its day", std::move(root), std::move(trust), judgement};
}

// A list that counts now: under the newest root, and with the withdrawals, which are of today
// whatever was signed before them.
Try<Judged> judge_by_now(const char* of, const VerifyOptions& options, const std::string& list,
                         const io::Bytes& bytes) {
  TRY(owner, read_owner(options.root, list, options.withdrawals));
  const package::Judgement judgement = package::judge_bytes(bytes, owner.root, owner.trust.list);
  return Judged{of, std::move(owner.root), std::move(owner.trust), judgement};
}

std::string place_words(const seal::OwnerTrust& trust) {
  return fmt::format("trust list {} under root {}", trust.list.sequence, trust.list.root_version);
}

// Taken the wrong way round, a list that was replaced would be called today's.
Try<void> check_order(const VerifyOptions& options, const Judged& then, const Judged& now) {
  const auto place = [](const seal::OwnerTrust& trust) {
    return std::pair{trust.list.root_version, trust.list.sequence};
  };
  if (place(now.trust) > place(then.trust) || now.trust.file.text == then.trust.file.text) {
    return {};
  }
  if (place(now.trust) == place(then.trust)) {
    return Unexpected(error_from(refuse(Fault::trust_same_sequence), options.trust_now));
  }
  Error error = usage_error("today's list is older than the list of the package's day",
                            place_words(now.trust), place_words(then.trust) + " or a newer one",
                            "give the older list with --trust and the newer with --trust-now");
  error.place.file = options.trust_now;
  return Unexpected(std::move(error));
}

Try<std::vector<Judged>> judge_all(const VerifyOptions& options, const io::Bytes& bytes) {
  std::vector<Judged> all;
  if (options.trust_now.empty()) {
    TRY(alone, judge_by_now("", options, options.trust, bytes));
    all.push_back(std::move(alone));
    return all;
  }
  TRY(newest, seal::read_root(io::real_system(), options.root));
  TRY(then, judge_by_then(options.trust, newest, bytes));
  TRY(now, judge_by_now("today", options, options.trust_now, bytes));
  TRY_VOID(check_order(options, then, now));
  all.push_back(std::move(then));
  all.push_back(std::move(now));
  return all;
}

Error refusal(const Outcome& outcome, const Try<package::Package>& opened,
              const std::string& file) {
  Error error = package::refusal(outcome, file);
  if (opened && outcome.item < opened->signoffs.size() && is_about_one_signoff(outcome.fault)) {
    error.place.item = fmt::format("sign-off {:02}", outcome.item + 1);
  }
  return error;
}

void say_reasons(const std::vector<package::Reason>& all) {
  say("chain of reasons, each step resting on those above it");
  for (const package::Reason& reason : all) {
    say(fmt::format("  {:<11} {}", reason.step, reason.text));
    if (!reason.digest.empty()) {
      say(fmt::format("  {:<11}   {}", "", reason.digest));
    }
    for (const std::string& by : reason.by) {
      say(fmt::format("  {:<11}   by {}", "", by));
    }
  }
}

void say_two(const std::vector<Judged>& all, const std::string& file) {
  for (const Judged& each : all) {
    const Outcome& outcome = each.judgement.outcome;
    say(fmt::format("{:<7} {}  by the list of {}: trust list {}, root version {}{}",
                    outcome.ok() ? "good" : "refused", file, each.of, each.trust.list.sequence,
                    each.root.root.version,
                    outcome.ok()
                        ? std::string()
                        : fmt::format(": {} (reason {})", fault_text(outcome.fault).sentence,
                                      static_cast<unsigned>(outcome.fault))));
  }
}

view::ListVerdict verdict_of(const Judged& each, const package::Package& package, bool explain) {
  view::ListVerdict out{each.of,
                        each.trust.list.sequence,
                        each.trust.digest,
                        each.root.root.version,
                        each.judgement.outcome,
                        {}};
  if (explain) {
    out.reasons = package::reasons(package, each.root, each.trust, each.judgement);
  }
  return out;
}

Ran print_json(const std::vector<Judged>& all, const package::Package& package, bool explain,
               bool good) {
  std::vector<view::ListVerdict> verdicts;
  verdicts.reserve(all.size());
  for (const Judged& each : all) {
    verdicts.push_back(verdict_of(each, package, explain));
  }
  say(view::json_of(package, verdicts));
  return good ? 0 : 1;
}

} // namespace

Ran verify_package(const VerifyOptions& options) {
  if (options.trust.empty()) {
    return Unexpected(
        usage_error("a package is verified against a trust list", "no --trust", "--trust FILE"));
  }
  TRY(bytes, io::read_file(io::real_system(), options.file, package::max_package));
  TRY(all, judge_all(options, bytes));
  Try<package::Package> opened = package::open(std::move(bytes), options.file);
  bool good = true;
  for (const Judged& each : all) {
    good = good && each.judgement.outcome.ok();
  }
  if (options.json && opened) {
    return print_json(all, *opened, options.explain, good);
  }
  if (all.size() == 1 && !good) {
    return Unexpected(refusal(all[0].judgement.outcome, opened, options.file));
  }
  TRY(package, opened);
  if (all.size() == 1) {
    say(fmt::format("good  {}  {} with {} sign-offs", options.file, release_name(package.manifest),
                    package.signoffs.size()));
  } else {
    say_two(all, options.file);
  }
  for (const Judged& each : all) {
    if (options.explain) {
      say_reasons(package::reasons(package, each.root, each.trust, each.judgement));
    }
  }
  return good ? 0 : 1;
}

} // namespace cardseal::tool
