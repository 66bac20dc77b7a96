// A package judged by one trust list, or by the list of its day and by today's.
#include "verify_package.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/explain.h"
#include "seal/withdrawal.h"
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
Try<Judged> judge_by(const char* of, const std::string& list, const seal::OwnerRoot& newest,
                     const std::vector<std::string>& withdrawals, const io::Bytes& bytes) {
  TRY(form, seal::read_trust_form(io::real_system(), list));
  TRY(root, seal::root_of_version(newest, form.list.root_version, list));
  TRY(trust, seal::read_trust(io::real_system(), list, root));
  for (const std::string& file : withdrawals) {
    TRY(withdrawal, seal::read_withdrawal(io::real_system(), file, root, trust));
    TRY_VOID(seal::stop_by(trust, std::move(withdrawal)));
  }
  const package::Judgement judgement = package::judge_bytes(bytes, root, trust.list);
  return Judged{of, std::move(root), std::move(trust), judgement};
}

Try<std::vector<Judged>> judge_all(const VerifyOptions& options, const io::Bytes& bytes) {
  TRY(newest, seal::read_root(io::real_system(), options.root));
  std::vector<Judged> all;
  const bool both = !options.trust_now.empty();
  if (both) {
    // Withdrawals are of today, whatever was signed before them.
    TRY(then, judge_by("its day", options.trust, newest, {}, bytes));
    all.push_back(std::move(then));
    TRY(now, judge_by("today", options.trust_now, newest, options.withdrawals, bytes));
    all.push_back(std::move(now));
    return all;
  }
  // Alone, a list must be one that counts now.
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  const package::Judgement judgement = package::judge_bytes(bytes, owner.root, owner.trust.list);
  all.push_back(Judged{"", std::move(owner.root), std::move(owner.trust), judgement});
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
