// Nothing is read as content before the signature that covers it verifies: with the cryptography
// made to fail, what lies behind the failing signature is never read off the card.
#include <algorithm>
#include <map>

#include "station_kit.h"
#include "support/catch.h"
#include "trust/signatures.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// Botan's table, whose Ed25519 says no from the call number `good` on.
struct Failing {
  explicit Failing(std::size_t good_calls) : good(good_calls) {}

  trust::CryptoTable table() {
    trust::CryptoTable out;
    out.context = this;
    out.sha256_start = [](void* self) { real(self).sha256_start(context(self)); };
    out.sha256_add = [](void* self, const std::uint8_t* bytes, std::size_t size) {
      real(self).sha256_add(context(self), bytes, size);
    };
    out.sha256_finish = [](void* self, std::uint8_t digest[trust::digest_size]) {
      real(self).sha256_finish(context(self), digest);
    };
    out.ed25519_verify = [](void* self, const std::uint8_t* key, const std::uint8_t* head,
                            std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
                            const std::uint8_t* signature) {
      auto& failing = *static_cast<Failing*>(self);
      return failing.calls++ < failing.good &&
             real(self).ed25519_verify(context(self), key, head, head_size, body, body_size,
                                       signature);
    };
    return out;
  }

  std::size_t good;
  std::size_t calls = 0;
  crypto::BotanContext botan;
  trust::CryptoTable inner = crypto::botan_table(botan);

private:
  static const trust::CryptoTable& real(void* self) { return static_cast<Failing*>(self)->inner; }
  static void* context(void* self) { return real(self).context; }
};

constexpr const char* trust_file = "CARDSEAL/TRUST.TXT";
constexpr const char* index_file = "CARDSEAL/CARD.TXT";

struct Tried {
  Outcome outcome;
  std::size_t calls = 0;
  std::map<std::string, std::size_t> reads; // of each file's first sector
};

Tried try_with(CardKit& kit, std::size_t good) {
  Bench bench(kit);
  Failing failing(good);
  bench.crypto = failing.table();
  bench.restart();
  std::map<std::uint32_t, std::string> files;
  for (const auto& file : bench.card.plan.files) {
    if (file.size > 0) {
      files[file.extent.first_lba] = file.path;
    }
  }
  Tried tried;
  bench.on_read = [&](std::uint32_t lba, ByteSpan) {
    if (const auto at = files.find(lba); at != files.end()) {
      ++tried.reads[at->second];
    }
    return true;
  };
  tried.outcome = bench.admit();
  tried.calls = failing.calls;
  return tried;
}

std::size_t others_read(const Tried& tried, const std::vector<std::string>& allowed) {
  std::size_t count = 0;
  for (const auto& file : tried.reads) {
    const bool fine = std::any_of(allowed.begin(), allowed.end(), [&](const std::string& start) {
      return file.first.starts_with(start);
    });
    count += fine ? 0 : file.second;
  }
  return count;
}

} // namespace

TEST_CASE("with no signature that verifies, nothing behind the trust list is read") {
  CardKit kit;
  const Tried none = try_with(kit, 0);
  CHECK(static_cast<int>(none.outcome.fault) == 322);
  CHECK(none.reads.count(trust_file) == 1);
  CHECK(others_read(none, {"CARDSEAL/TRUST"}) == 0);
}

TEST_CASE("with a card index that does not verify, no package and no allotment is read") {
  CardKit kit;
  const Tried index = try_with(kit, 1); // the list's one signature is good
  CHECK(static_cast<int>(index.outcome.fault) == 311);
  CHECK(index.reads.count(index_file) == 1);
  CHECK(others_read(index, {"CARDSEAL/TRUST", "CARDSEAL/CARD"}) == 0);
}

TEST_CASE("each signature that fails refuses, wherever it stands") {
  CardKit kit;
  const Tried whole = try_with(kit, 1000);
  REQUIRE(whole.outcome.ok());
  REQUIRE(whole.calls > 4);
  for (std::size_t good = 0; good < whole.calls; ++good) {
    INFO(good);
    const Tried tried = try_with(kit, good);
    CHECK_FALSE(tried.outcome.ok());
  }
}

TEST_CASE("a manifest is not looked into before its sign-offs verify") {
  const auto reason = [](Who quality) {
    CardKit kit;
    kit.manifest.title = text<24>("NOT SHIP 1.4.0"); // 369, once it is read
    kit.signoffs[1].by = quality;
    Bench bench(kit);
    return static_cast<int>(bench.admit().fault);
  };
  CHECK(reason(Who::stranger) == 322);
  CHECK(reason(Who::quality) == 369);
}

TEST_CASE("a card is admitted with one verification for each signature") {
  CardKit kit;
  const Tried all = try_with(kit, 100);
  REQUIRE(all.outcome.ok());
  // Trust list, card index, allotment and each sign-off, whatever the order of the list's keys.
  CHECK(all.calls == 3 + kit.signoffs.size());
  CHECK(kit.list.keys.count > 3);
}

TEST_CASE("a text that names other keys than its signer's still finds its signer") {
  CardKit kit;
  (void)kit.build();
  crypto::BotanContext botan;
  const trust::CryptoTable crypto = crypto::botan_table(botan);
  format::TrustList list;
  REQUIRE(format::decode(kit.list_text, list).ok());
  std::string text;
  for (const format::TrustedKey& key : list.keys.view()) {
    text += key.key == key_of(Who::allot).public_key() ? "" : crypto::hex(key.key);
  }
  const Bytes made = sign(Who::allot, format::Signoff::kind, bytes_of(text));
  const format::TrustedKey* signer = nullptr;
  REQUIRE(
      trust::find_signer(crypto, list, {format::Signoff::kind, bytes_of(text), made}, signer).ok());
  CHECK(signer->key == key_of(Who::allot).public_key());
}
