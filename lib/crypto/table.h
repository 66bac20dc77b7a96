// The desk's cryptography for `trust`: the table of trust/crypto_table.h filled by Botan.
#pragma once

#include "crypto/sha256.h"
#include "trust/crypto_table.h"

namespace cardseal::crypto {

// What a table's functions work on; must outlive the table. Each thread needs its own.
class BotanContext {
public:
  Sha256& hash() { return hash_; }

private:
  Sha256 hash_;
};

trust::CryptoTable botan_table(BotanContext& context);

} // namespace cardseal::crypto
