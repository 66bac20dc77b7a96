#include "crypto/sha256.h"

#include "crypto/table.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::crypto;

namespace {

struct Example {
  std::string text;
  const char* digest;
};

// FIPS 180-4, examples of SHA-256 published with it by NIST (csrc.nist.gov, "Cryptographic
// Standards and Guidelines, Examples with Intermediate Values"): "abc" and the 448-bit message. The
// empty message and a million times "a": NIST Cryptographic Algorithm Validation Program, SHA test
// vectors.
const Example examples[] = {
    {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
    {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
    {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    {std::string(1000000, 'a'), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
};

} // namespace

TEST_CASE("the published examples of SHA-256 come out") {
  for (const Example& example : examples) {
    CHECK(hex(sha256(bytes_of(example.text))) == example.digest);
  }
}

TEST_CASE("bytes may come in pieces, and a hash starts anew after it is finished") {
  Sha256 hash;
  for (const Example& example : examples) {
    const ByteView bytes = bytes_of(example.text);
    const std::size_t half = bytes.size() / 3;
    hash.update(bytes.first(half));
    hash.update(bytes.subspan(half));
    CHECK(hex(hash.finish()) == example.digest);
  }
}

TEST_CASE("the table hashes as the standard says and forgets what was not finished") {
  BotanContext context;
  const trust::CryptoTable table = botan_table(context);
  const std::uint8_t letters[] = {'a', 'b', 'c'};
  table.sha256_start(table.context);
  table.sha256_add(table.context, letters, 2);
  table.sha256_start(table.context);
  table.sha256_add(table.context, letters, 1);
  table.sha256_add(table.context, letters + 1, 2);
  Digest digest{};
  table.sha256_finish(table.context, digest.data());
  CHECK(hex(digest) == examples[0].digest);
}

TEST_CASE("a digest has one spelling") {
  const Digest digest = sha256(bytes_of("abc"));
  const std::string spelled = spell_digest(digest);
  CHECK(spelled == std::string("sha256:") + examples[0].digest);
  Digest back{};
  REQUIRE(parse_digest(spelled, back));
  CHECK(back == digest);
  std::string upper = spelled;
  upper[7] = 'B';
  for (const std::string& bad : {std::string(), upper, spelled + "0", spelled.substr(0, 70),
                                 "sha-256:" + hex(digest), hex(digest), " " + spelled}) {
    INFO(bad);
    CHECK_FALSE(parse_digest(bad, back));
  }
}
