#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "base/number.h"
#include "card/verify.h"
#include "crypto/sha256.h"
#include "file_kind.h"
#include "package/package.h"
#include "view/json.h"
#include "words.h"

namespace cardseal::tool {
namespace {

void explain(const package::Package& package, const Owner& owner,
             const package::Judgement& judged) {
  say("chain of reasons");
  say(fmt::format("  root        version {}, owner {}", owner.root.root.version,
                  crypto::spell_digest(owner.root.owner)));
  say(fmt::format("  trust list  sequence {}, {}", owner.trust.list.sequence,
                  crypto::spell_digest(owner.trust.digest)));
  for (const trust::CountedSignoff& signoff : judged.verdict.signoffs.view()) {
    say(fmt::format("  sign-off    {} by {}, {}",
                    format::role_words[static_cast<std::size_t>(signoff.role)],
                    signoff.person.view(), crypto::spell_digest(signoff.text_digest)));
  }
  say(fmt::format("  manifest    {}", crypto::spell_digest(package.manifest_digest)));
  say(fmt::format("  image       {} bytes in {} blocks, chain head {}", package.manifest.image_size,
                  format::block_count(package.manifest.image_size),
                  crypto::spell_digest(package.manifest.chain_head)));
}

bool is_about_one_signoff(Fault fault) {
  const bool one_is_missing = fault == Fault::signoff_release || fault == Fault::signoff_quality ||
                              fault == Fault::signoff_engineering;
  return fault >= Fault::signature_form && fault < Fault::manifest_owner && !one_is_missing;
}

Ran verify_package(const VerifyOptions& options) {
  if (options.trust.empty()) {
    return Unexpected(
        usage_error("a package is verified against a trust list", "no --trust", "--trust FILE"));
  }
  TRY(owner, read_owner(options.root, options.trust));
  TRY(bytes, io::read_file(io::real_system(), options.file, package::max_package));
  const package::Judgement judged = package::judge_bytes(bytes, owner.root, owner.trust.list);
  Try<package::Package> opened = package::open(std::move(bytes), options.file);
  if (options.json && opened) {
    say(view::json_of(*opened, judged.outcome));
    return judged.outcome.ok() ? 0 : 1;
  }
  if (!judged.outcome.ok()) {
    Error error = package::refusal(judged.outcome, options.file);
    if (opened && judged.outcome.item < opened->signoffs.size() &&
        is_about_one_signoff(judged.outcome.fault)) {
      error.place.item = fmt::format("sign-off {:02}", judged.outcome.item + 1);
    }
    return Unexpected(std::move(error));
  }
  TRY(package, opened);
  say(fmt::format("good  {}  {} with {} sign-offs", options.file, release_name(package.manifest),
                  package.signoffs.size()));
  if (options.explain) {
    explain(package, owner, judged);
  }
  return 0;
}

Ran verify_trust(const VerifyOptions& options) {
  TRY(owner, read_owner(options.root, options.file));
  if (options.json) {
    say(view::json_of(owner.trust.list, owner.trust.digest));
  } else {
    say(fmt::format("good  {}  trust list {}, signed under root version {}", options.file,
                    owner.trust.list.sequence, owner.root.root.version));
  }
  return 0;
}

Ran verify_root(const VerifyOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.file));
  if (options.json) {
    say(view::json_of(root.root, root.owner));
  } else {
    say(fmt::format("good  {}  root version {}, signed by its own keys", options.file,
                    root.root.version));
    say(fmt::format("fingerprint  {}", seal::spoken(root.owner)));
  }
  return 0;
}

} // namespace

Ran run_verify(const VerifyOptions& options) {
  TRY(kind, kind_of(options.file));
  if (kind != FileKind::root && options.root.empty()) {
    return Unexpected(usage_error("everything but a root is verified against a root", "no --root",
                                  "--root FILE"));
  }
  switch (kind) {
  case FileKind::root:
    return verify_root(options);
  case FileKind::trust:
    return verify_trust(options);
  case FileKind::package:
    return verify_package(options);
  case FileKind::card:
    return run_card_verify({options.file, options.root, options.json});
  }
  return 0;
}

} // namespace cardseal::tool
