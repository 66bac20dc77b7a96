#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "card/verify.h"
#include "crypto/sha256.h"
#include "file_kind.h"
#include "seal/withdrawal.h"
#include "verify_package.h"
#include "verify_statement.h"
#include "view/json.h"

namespace cardseal::tool {
namespace {

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

Ran verify_withdrawal(const VerifyOptions& options) {
  if (options.trust.empty()) {
    return Unexpected(
        usage_error("a withdrawal is verified against a trust list", "no --trust", "--trust FILE"));
  }
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  TRY(read, seal::read_withdrawal(io::real_system(), options.file, owner.root, owner.trust));
  if (options.json) {
    say(view::json_of(read.withdrawal));
    return 0;
  }
  say(fmt::format("good  {}  withdraws {}, signed by {}", options.file,
                  seal::stopped_words(read.withdrawal), read.withdrawal.person.view()));
  return 0;
}

Ran verify_root(const VerifyOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.file));
  if (options.json) {
    say(view::json_of(root.root, root.owner));
  } else {
    say(fmt::format("good  {}  root version {}, {}", options.file, root.root.version,
                    root.root.version == 1 ? "signed by its own keys"
                                           : "signed by its own keys and those of the root before, "
                                             "as was each root from the first"));
    say(fmt::format("owner        {}", seal::spoken(root.owner)));
    say(fmt::format("fingerprint  {}", seal::spoken(crypto::sha256(root.file.text))));
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
  case FileKind::withdrawal:
    return verify_withdrawal(options);
  case FileKind::statement:
    return verify_statement(options);
  case FileKind::package:
    return verify_package(options);
  case FileKind::card:
    return run_card_verify({options.file, options.root, options.json});
  }
  return 0;
}

} // namespace cardseal::tool
