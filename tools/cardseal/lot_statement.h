// Signing a statement about a lot: shown, confirmed by typing, signed here or elsewhere, written,
// and kept in the register.
#pragma once

#include "commands_lot.h"
#include "common.h"
#include "register/register.h"

namespace cardseal::tool {

// Who is to sign, and by what.
struct Signer {
  Owner owner;
  format::Id person;
  format::Text<96> reason;
  Utc time;
  std::optional<crypto::SigningKey> key; // none: elsewhere
  format::Key public_key{};
};

Try<Signer> open_signer(const StatementOptions& options, const std::vector<format::Id>& products);

struct Draft {
  std::string_view kind; // of the text
  registry::StatementKind kept = registry::StatementKind::closure;
  const char* what; // for people
  std::string work_order;
  std::string confirm_name; // what a person types
  io::Bytes text;
  std::vector<registry::Settlement> settled;
  std::optional<registry::Head> at; // of the register when it was counted
};

// After it was shown. Writes text and signature, then keeps both in the register: a text that was
// signed and that the register refused says so.
Ran sign_statement(registry::Register& numbers, const StatementOptions& options,
                   const Signer& signer, const Draft& draft);

} // namespace cardseal::tool
