#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "file_kind.h"
#include "format/lot_texts.h"
#include "package/package.h"
#include "verify_statement.h"
#include "view/json.h"
#include "words.h"
#include "wrapped.h"

namespace cardseal::tool {
namespace {

// The exact bytes under signature N, for any tool that knows Ed25519.
Ran write_signed_bytes(const ShowOptions& options, const package::Package& package) {
  const std::uint32_t number = *options.signed_bytes;
  if (number < 1 || number > package.signoffs.size()) {
    return Unexpected(usage_error("there is no such sign-off", fmt::format("{}", number),
                                  fmt::format("1 to {}", package.signoffs.size())));
  }
  const package::SignoffEntry& entry = package.signoffs[number - 1];
  TRY_VOID(io::write_file(io::real_system(), options.output,
                          seal::signed_bytes(format::Signoff::kind, entry.text),
                          if_exists(options.force)));
  return 0;
}

Ran show_package(const ShowOptions& options) {
  TRY(package, package::read(io::real_system(), options.file));
  if (options.signed_bytes) {
    return write_signed_bytes(options, package);
  }
  if (options.json) {
    say(view::json_of(package));
    return 0;
  }
  say(wrapped(describe(package) + describe_signoffs(package), terminal_width()));
  note("shown as it stands; nothing was verified (cardseal verify does)");
  return 0;
}

Ran show_list_json(const ShowOptions& options) {
  TRY(trust, seal::read_trust_form(io::real_system(), options.file));
  say(view::json_of(trust.list, trust.digest));
  return 0;
}

Ran show_root_json(const ShowOptions& options) {
  TRY(draft, seal::read_root_draft(io::real_system(), options.file));
  const format::Digest first = crypto::sha256(draft.file.text);
  say(view::json_of(draft.root, draft.root.owner.present ? draft.root.owner.value : first));
  return 0;
}

Ran show_withdrawal_json(const ShowOptions& options) {
  TRY(file, seal::read_signed(io::real_system(), options.file, format::Withdrawal::limit));
  format::Withdrawal withdrawal;
  const Outcome outcome = format::decode(file.text, withdrawal);
  if (!outcome.ok()) {
    Error error = error_from(outcome, options.file);
    error.place.line = outcome.position;
    error.kind = ErrorKind::bad_data;
    return Unexpected(std::move(error));
  }
  say(view::json_of(withdrawal));
  return 0;
}

Ran show_text(const ShowOptions& options) {
  TRY(text, io::read_file(io::real_system(), options.file, format::Close::limit));
  std::string line;
  for (const char c : text_of(ByteView(text))) {
    if (c == '\n') {
      say(escaped(line));
      line.clear();
    } else {
      line += c;
    }
  }
  note("shown as it stands; nothing was verified (cardseal verify does)");
  return 0;
}

} // namespace

Ran run_show(const ShowOptions& options) {
  TRY(kind, kind_of(options.file));
  if (options.signed_bytes && kind != FileKind::package) {
    return Unexpected(
        usage_error("only a package has numbered sign-offs", options.file, "a release package"));
  }
  switch (kind) {
  case FileKind::package:
    return show_package(options);
  case FileKind::card:
    return run_card_list({options.file, options.json});
  case FileKind::trust:
    return options.json ? show_list_json(options) : show_text(options);
  case FileKind::withdrawal:
    return options.json ? show_withdrawal_json(options) : show_text(options);
  case FileKind::statement:
    return options.json ? show_statement_json(options) : show_text(options);
  case FileKind::root:
    return options.json ? show_root_json(options) : show_text(options);
  }
  return 0;
}

} // namespace cardseal::tool
