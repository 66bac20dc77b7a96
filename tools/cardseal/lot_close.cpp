// Quality's statement that a lot is accounted for.
#include "given.h"
#include "lot_statement.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "lot/close.h"
#include "lot_units.h"
#include "seal/statement.h"

namespace cardseal::tool {
namespace {

Try<format::Labels> labels_of(const std::string& text) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 3) {
    return Unexpected(
        usage_error("the labels are not in their form", text, "PRINTED:APPLIED:SCRAPPED"));
  }
  constexpr std::uint64_t most = 9'999'999;
  TRY(printed, to_uint(parts[0], "the labels printed", most));
  TRY(applied, to_uint(parts[1], "the labels applied", most));
  TRY(scrapped, to_uint(parts[2], "the labels scrapped", most));
  return format::Labels{static_cast<std::uint32_t>(printed), static_cast<std::uint32_t>(applied),
                        static_cast<std::uint32_t>(scrapped)};
}

std::vector<format::Id> products_of(const std::vector<package::Package>& packages) {
  std::vector<format::Id> products;
  products.reserve(packages.size());
  for (const package::Package& package : packages) {
    products.push_back(package.manifest.product);
  }
  return products;
}

} // namespace

Ran run_lot_close(const LotCloseOptions& options) {
  const StatementOptions& statement = options.statement;
  TRY(packages, read_whole_packages(options.packages));
  std::optional<format::Digest> own;
  if (!statement.root.empty()) {
    TRY(root, seal::read_root(io::real_system(), statement.root));
    own = root.owner;
  }
  TRY(numbers, registry::Register::open(io::real_system(), statement.registered, own));
  TRY(head, numbers.head());
  TRY(account, lot::account_of(numbers, options.work_order));
  lot::Closing closing{account, packages, head, {}};
  if (!options.labels.empty()) {
    TRY(labels, labels_of(options.labels));
    closing.labels.set(labels);
  }
  TRY(draft_of, lot::close_text(numbers, closing));
  say_account(account, packages);
  for (const format::Text<160>& point : draft_of.points.view()) {
    say(fmt::format("to be signed as known: {}", escaped(point.view())));
  }
  if (options.dry_run) {
    note("this lot can be closed; nothing was signed");
    return 0;
  }
  if (statement.output.empty() || statement.root.empty() || statement.trust.empty()) {
    return Unexpected(usage_error("a closure is signed and written", "no --root, --trust or -o",
                                  "all three, or --dry-run"));
  }
  TRY(signer, open_signer(statement, products_of(packages)));
  draft_of.owner = signer.owner.root.owner;
  draft_of.person = signer.person;
  draft_of.reason = signer.reason;
  draft_of.time = signer.time;
  TRY(spelled, seal::spell(draft_of));
  const Draft draft{format::Close::kind,
                    registry::StatementKind::closure,
                    "closure",
                    options.work_order,
                    fmt::format("close {}", options.work_order),
                    std::move(spelled),
                    {},
                    head};
  return sign_statement(numbers, statement, signer, draft);
}

} // namespace cardseal::tool
