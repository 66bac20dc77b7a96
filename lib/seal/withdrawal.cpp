#include "seal/withdrawal.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"
#include "seal/trust_edit.h"
#include "trust/withdrawal_rules.h"

namespace cardseal::seal {

Try<format::Id> stopping_person(const OwnerTrust& trust, const format::Key& key,
                                const std::string& file) {
  for (const format::TrustedKey& known : trust.list.keys.view()) {
    const bool may = known.role == format::Role::quality || known.role == format::Role::withdraw;
    if (known.key == key && may && known.state == format::KeyState::active) {
      return known.person;
    }
  }
  return Unexpected(at(error_of(ErrorKind::config, "key-role", "this key may not withdraw anything",
                                "", "an active key of role quality or withdraw on the trust list",
                                "have quality sign it"),
                       file));
}

Try<OwnerWithdrawal> read_withdrawal(io::System& system, const io::Path& path,
                                     const OwnerRoot& root, const OwnerTrust& trust) {
  Try<SignedText> file = read_signed(system, path, format::Withdrawal::limit);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  OwnerWithdrawal out{std::move(*file), {}};
  const ByteView signature =
      out.file.signatures.size() == 1 ? ByteView(out.file.signatures[0]) : ByteView();
  crypto::BotanContext botan;
  const format::TrustedKey* signer = nullptr;
  const Outcome outcome =
      trust::judge_withdrawal(crypto::botan_table(botan), root.view(), trust.list, out.file.text,
                              signature, out.withdrawal, signer);
  if (!outcome.ok()) {
    return Unexpected(error_from(outcome, path.string()));
  }
  return out;
}

bool stop_by(format::TrustList& list, const format::Withdrawal& withdrawal) {
  if (withdrawal.key.present) {
    trust::stop_key(list, withdrawal.key.value);
  }
  if (!withdrawal.manifest.present) {
    return true;
  }
  const auto all = list.withdrawn.view();
  const bool known = std::find(all.begin(), all.end(), withdrawal.manifest.value) != all.end();
  const bool held = known || list.withdrawn.add(withdrawal.manifest.value);
  sort_lists(list);
  return held;
}

Try<void> stop_by(OwnerTrust& trust, OwnerWithdrawal withdrawal) {
  if (trust.withdrawals.size() == trust::max_withdrawals) {
    return Unexpected(trust_full("withdrawals of one card", trust::max_withdrawals));
  }
  if (!stop_by(trust.list, withdrawal.withdrawal)) {
    return Unexpected(trust_full("withdrawn packages", trust.list.withdrawn.capacity()));
  }
  trust.withdrawals.push_back(std::move(withdrawal));
  return {};
}

std::string stopped_words(const format::Withdrawal& withdrawal) {
  if (withdrawal.key.present) {
    return fmt::format("key {}", crypto::hex(withdrawal.key.value));
  }
  return fmt::format("{} {}", withdrawal.manifest.present ? "package" : "allotment",
                     crypto::spell_digest(trust::stop_of(withdrawal).value));
}

} // namespace cardseal::seal
