// OpenSSL's command line tool as an outside judge of keys and signatures.
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <iterator>

#include <sys/stat.h>

#include "crypto/key_file.h"
#include "crypto/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::crypto;
using cardseal::test::TempFolder;

namespace {

constexpr const char* good_phrase = "frost on the buds";

bool runs(const std::string& command) {
  return std::system(command.c_str()) == 0; // NOLINT(cert-env33-c): commands of this file only
}

// False, and "skipped" on the screen, where there is no openssl; under CI that is a failure.
bool have_openssl() {
  if (runs("openssl version > /dev/null 2>&1")) {
    return true;
  }
  const char* const ci = std::getenv("CI");
  if (ci != nullptr && std::string(ci) == "true") {
    FAIL("openssl is missing");
  }
  std::cout << "skipped: no openssl\n";
  return false;
}

// A folder with a passphrase file, and openssl commands run within it.
class Bench {
public:
  Bench() { test::put_file(folder_ / "phrase", good_phrase); }
  io::Path path(const std::string& name) const { return folder_ / name; }
  bool openssl(const std::string& arguments) const {
    return runs("cd '" + folder_.path().string() + "' && openssl " + arguments + " 2> errors");
  }

private:
  TempFolder folder_;
};

} // namespace

TEST_CASE("openssl opens the private key with its passphrase and derives the same public key") {
  if (!have_openssl()) {
    return;
  }
  const Bench bench;
  const Try<SigningKey> key = SigningKey::generate();
  REQUIRE(key);
  REQUIRE(write_key_file(io::real_system(), bench.path("key.pem"), *key, good_phrase,
                         io::IfExists::refuse));
  REQUIRE(bench.openssl("pkey -in key.pem -passin file:phrase -pubout -out openssl.pub"));
  CHECK(test::text_of_file(bench.path("openssl.pub")) == public_key_pem(key->public_key()));
  CHECK_FALSE(bench.openssl("pkey -in key.pem -passin pass:wrong -pubout -out none.pub"));
  REQUIRE(bench.openssl("asn1parse -in key.pem -out raw.der > parsed"));
  const std::string parsed = test::text_of_file(bench.path("parsed"));
  for (const char* part : {":PBES2", ":PBKDF2", ":0927C0", ":hmacWithSHA256", ":aes-256-cbc"}) {
    CHECK_THAT(parsed, ContainsSubstring(part)); // 0927C0 is 600,000
  }
}

TEST_CASE("openssl verifies our signature and refuses it over one changed byte") {
  if (!have_openssl()) {
    return;
  }
  const Bench bench;
  const Try<SigningKey> key = SigningKey::generate();
  REQUIRE(key);
  const std::string message = "one line\nand another\n";
  const Signature signature = key->sign(bytes_of(message));
  test::put_file(bench.path("key.pub"), public_key_pem(key->public_key()));
  test::put_file(bench.path("message"), message);
  test::put_file(bench.path("signature"), text_of(signature));
  const std::string verify_with =
      "pkeyutl -verify -rawin -pubin -inkey key.pub -sigfile signature -in ";
  CHECK(bench.openssl(verify_with + "message > verdict"));
  CHECK_THAT(test::text_of_file(bench.path("verdict")), ContainsSubstring("Verified Successfully"));
  test::put_file(bench.path("changed"), "one line\nand anothes\n");
  CHECK_FALSE(bench.openssl(verify_with + "changed > verdict"));
}

TEST_CASE("a key that openssl made and encrypted is read, and signs what openssl signs") {
  if (!have_openssl()) {
    return;
  }
  const Bench bench;
  REQUIRE(bench.openssl("genpkey -algorithm ed25519 -out plain.pem"));
  REQUIRE(bench.openssl("pkcs8 -topk8 -v2 aes-256-cbc -v2prf hmacWithSHA256 -iter 600000 "
                        "-in plain.pem -passout file:phrase -out key.pem"));
  REQUIRE(::chmod(bench.path("key.pem").c_str(), 0600) == 0);
  const Try<SigningKey> key = read_key_file(io::real_system(), bench.path("key.pem"), good_phrase);
  REQUIRE(key);
  test::put_file(bench.path("message"), "frost-node");
  REQUIRE(bench.openssl("pkeyutl -sign -rawin -inkey plain.pem -in message -out signature"));
  CHECK(test::text_of_file(bench.path("signature")) == text_of(key->sign(bytes_of("frost-node"))));
  REQUIRE(::chmod(bench.path("plain.pem").c_str(), 0600) == 0);
  const Try<SigningKey> plain =
      read_key_file(io::real_system(), bench.path("plain.pem"), good_phrase);
  REQUIRE_FALSE(plain);
  CHECK(plain.error().code == "key-unencrypted");
}

TEST_CASE("other encryptions that openssl writes are named, not guessed at") {
  if (!have_openssl()) {
    return;
  }
  const Bench bench;
  REQUIRE(bench.openssl("genpkey -algorithm ed25519 -out plain.pem"));
  const auto made_with = [&](const std::string& options) {
    REQUIRE(
        bench.openssl("pkcs8 -topk8 -in plain.pem -passout file:phrase -out key.pem " + options));
    REQUIRE(::chmod(bench.path("key.pem").c_str(), 0600) == 0);
    const Try<SigningKey> key =
        read_key_file(io::real_system(), bench.path("key.pem"), good_phrase);
    return key ? std::string("read") : key.error().code + ", " + key.error().found;
  };
  CHECK(made_with("-v2 aes-128-cbc") == "key-encryption, another cipher");
  CHECK(made_with("-v2 aes-256-cbc -v2prf hmacWithSHA1") == "key-encryption, another hash");
  CHECK(made_with("-v2 aes-256-cbc -v2prf hmacWithSHA512") == "key-encryption, another hash");
  CHECK(made_with("-scrypt") == "key-encryption, another key derivation");
  REQUIRE(bench.openssl("genpkey -algorithm x25519 -out plain.pem"));
  CHECK(made_with("-v2 aes-256-cbc") == "key-algorithm, ");
}

TEST_CASE("openssl gives the same digest") {
  if (!have_openssl()) {
    return;
  }
  const Bench bench;
  test::put_file(bench.path("message"), std::string(100000, 'x'));
  REQUIRE(bench.openssl("dgst -sha256 -r message > digest"));
  CHECK(test::text_of_file(bench.path("digest")).substr(0, 64) ==
        hex(sha256(bytes_of(std::string(100000, 'x')))));
}
