#include "lot_statement.h"

#include <fmt/format.h>

#include "elsewhere.h"
#include "seal/statement.h"
#include "trust_parts.h"

namespace cardseal::tool {
namespace {

constexpr const char* made_with = "options, --time, package and register";

Try<crypto::Signature> signature_of(const StatementOptions& options, const Signer& signer,
                                    const Draft& draft) {
  if (signer.key) {
    TRY_VOID(confirm(draft.confirm_name, options.confirm));
    return seal::sign(*signer.key, draft.kind, draft.text);
  }
  return read_attached(options.elsewhere, signer.public_key,
                       {draft.kind, draft.text, draft.what, made_with});
}

Ran write_bytes(const StatementOptions& options, const Signer& signer, const Draft& draft) {
  TRY_VOID(confirm(draft.confirm_name, options.confirm));
  TRY_VOID(write_signed_bytes(options.elsewhere, {draft.kind, draft.text, draft.what, made_with}));
  note(fmt::format("next: sign that file (Ed25519, 64 raw bytes), then give the same options with "
                   "--attach SIGNATURE for --signed-bytes, and --time {}",
                   words(signer.time)));
  return 0;
}

} // namespace

Try<Signer> open_signer(const StatementOptions& options, const std::vector<format::Id>& products) {
  TRY(way, way_of(options.key, options.elsewhere));
  if (way == Way::attach && options.time.empty()) {
    return Unexpected(time_missing());
  }
  Signer signer;
  TRY(owner, read_owner(options.root, options.trust));
  signer.owner = std::move(owner);
  TRY(reason, to_text<96>(options.reason, "the reason"));
  signer.reason = reason;
  TRY(time, time_or_now(options.time));
  signer.time = time;
  if (way == Way::here) {
    TRY(key, open_key(options.key));
    signer.public_key = key.public_key();
    signer.key = std::move(key);
  } else {
    TRY(key, crypto::read_public_key_file(io::real_system(), options.elsewhere.public_key));
    signer.public_key = key;
  }
  TRY(person, seal::quality_person(signer.owner.trust, signer.public_key, products,
                                   signer.key ? options.key.file : options.elsewhere.public_key));
  signer.person = person;
  return signer;
}

Ran sign_statement(registry::Register& numbers, const StatementOptions& options,
                   const Signer& signer, const Draft& draft) {
  if (!signer.key && options.elsewhere.attach.empty()) {
    registry::Statement unsigned_yet{draft.kept, draft.work_order, draft.text, {}, ""};
    TRY_VOID(numbers.keep_statement(unsigned_yet, draft.settled, draft.at, true));
    return write_bytes(options, signer, draft);
  }
  registry::Statement statement;
  statement.kind = draft.kept;
  statement.work_order = draft.work_order;
  statement.text = draft.text;
  // Nothing is signed that the register would not take.
  TRY_VOID(numbers.keep_statement(statement, draft.settled, draft.at, true));
  TRY(signature, signature_of(options, signer, draft));
  statement.signature = signature;
  TRY_VOID(seal::write_signed(io::real_system(), options.output, {draft.text, {signature}},
                              io::IfExists::refuse));
  Try<void> kept = numbers.keep_statement(statement, draft.settled, draft.at);
  if (!kept) { // somebody else was quicker
    for (const io::Path& file :
         {io::Path(options.output), seal::signature_path(options.output, 0)}) {
      (void)io::real_system().remove(file);
    }
    note(fmt::format("the register did not take it, so {} was removed again", options.output));
    return Unexpected(std::move(kept).error());
  }
  say(fmt::format("signed      {} by {}, {} (claimed)", options.output, signer.person.view(),
                  words(signer.time)));
  return 0;
}

} // namespace cardseal::tool
