#include "crypto/ed25519.h"

#include <fstream>
#include <map>

#include <nlohmann/json.hpp>

#include "crypto/table.h"
#include "support/catch.h"
#include "support/hex.h"
#include "support/shared_cases.h"

using namespace cardseal;
using namespace cardseal::crypto;
using cardseal::test::shared_case;
using cardseal::test::unhex;

namespace {

using Bytes = std::vector<std::uint8_t>;
using Vector = std::map<std::string, std::string>;

std::vector<Vector> rfc8032() {
  std::ifstream in(CARDSEAL_SOURCE_DIR "/tests/vectors/ed25519-rfc8032.txt");
  std::vector<Vector> out;
  std::string key;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line[0] == '#') {
      continue;
    }
    if (line.starts_with("  ")) {
      out.back()[key] += line.substr(2);
      continue;
    }
    const std::size_t space = line.find(' ');
    key = line.substr(0, space);
    const std::string value = space == std::string::npos ? "" : line.substr(space + 1);
    if (key == "test") {
      out.emplace_back();
    }
    out.back()[key] = value == "-" ? "" : value;
  }
  return out;
}

PublicKey key_of(const std::string& spelled) {
  PublicKey key{};
  copy(key, unhex(spelled));
  return key;
}

// a + b, both 32 bytes, little-endian.
Bytes sum(ByteView a, const Bytes& b) {
  Bytes out(32);
  unsigned carry = 0;
  for (std::size_t at = 0; at < out.size(); ++at) {
    carry += static_cast<unsigned>(a[at]) + b[at];
    out[at] = static_cast<std::uint8_t>(carry);
    carry >>= 8;
  }
  return out;
}

Bytes joined(ByteView a, ByteView b) {
  Bytes out(a.begin(), a.end());
  out.insert(out.end(), b.begin(), b.end());
  return out;
}

Bytes signature_of(const char* r, std::uint8_t s) {
  Bytes out = unhex(r);
  out.resize(64, 0);
  out[32] = s;
  return out;
}

const char* const base_point = "5866666666666666666666666666666666666666666666666666666666666666";
const char* const group_order = "edd3f55c1a631258d69cf7a2def9de14"
                                "00000000000000000000000000000010"; // RFC 8032 section 5.1

// The eight points of small order (computed from the curve equation; see the tests of their form).
const char* const small_order[] = {
    "0100000000000000000000000000000000000000000000000000000000000000",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
};

} // namespace

TEST_CASE("every vector of RFC 8032 section 7.1 is signed and verified as printed") {
  const std::vector<Vector> vectors = rfc8032();
  REQUIRE(vectors.size() == 5);
  for (const Vector& vector : vectors) {
    INFO(vector.at("test"));
    const SigningKey key(unhex(vector.at("secret")));
    const Bytes message = unhex(vector.at("message"));
    const Bytes signature = unhex(vector.at("signature"));
    CHECK(key.public_key() == key_of(vector.at("public")));
    CHECK(equal(key.sign(message), signature));
    CHECK(verify(key.public_key(), message, signature));
    CHECK_FALSE(verify(key.public_key(), joined(message, Bytes{0}), signature));
  }
}

TEST_CASE("one changed bit anywhere in key, message or signature is refused") {
  const SigningKey key(unhex(rfc8032()[2].at("secret")));
  const Bytes message{1, 2, 3, 4};
  const Signature signature = key.sign(message);
  for (std::size_t bit = 0; bit < 8 * signature.size(); ++bit) {
    Signature changed = signature;
    changed[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    CHECK_FALSE(verify(key.public_key(), message, changed));
  }
  for (std::size_t bit = 0; bit < 256; ++bit) {
    PublicKey changed = key.public_key();
    changed[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    CHECK_FALSE(verify(changed, message, signature));
  }
  for (std::size_t bit = 0; bit < 8 * message.size(); ++bit) {
    Bytes changed = message;
    changed[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    CHECK_FALSE(verify(key.public_key(), changed, signature));
  }
}

// RFC 8032 section 5.1.7: S is below the group order, or the signature is malleable.
TEST_CASE("a signature with the group order added to S is refused") {
  for (const Vector& vector : rfc8032()) {
    Bytes signature = unhex(vector.at("signature"));
    const Bytes high = sum(ByteView(signature).subspan(32), unhex(group_order));
    std::copy(high.begin(), high.end(), signature.begin() + 32);
    CHECK_FALSE(verify(key_of(vector.at("public")), unhex(vector.at("message")), signature));
  }
}

TEST_CASE("the zero signature is refused under every key") {
  const Bytes zeros(64, 0);
  for (const Vector& vector : rfc8032()) {
    CHECK_FALSE(verify(key_of(vector.at("public")), unhex(vector.at("message")), zeros));
  }
  for (const char* key : small_order) {
    CHECK_FALSE(verify(key_of(key), {}, zeros));
  }
}

// With the identity as key, S B = R + h A holds for every message when R = S B: the forger takes S
// = 0 and R the identity, or S = 1 and R the base point (RFC 8032 section 5.1), whose form is
// blameless.
TEST_CASE("the identity key verifies none of 50 messages") {
  const Bytes with_zero = signature_of(small_order[0], 0);
  const Bytes with_one = signature_of(base_point, 1);
  for (unsigned message = 0; message < 50; ++message) {
    CHECK_FALSE(verify(key_of(small_order[0]), bytes_of(std::to_string(message)), with_zero));
    CHECK_FALSE(verify(key_of(small_order[0]), bytes_of(std::to_string(message)), with_one));
  }
}

// With a key whose order divides 8 the same forgeries fit about one message in eight.
TEST_CASE("no key of small order verifies a forged signature over any of 64 messages") {
  std::vector<Bytes> forgeries{signature_of(base_point, 1)};
  for (const char* r : small_order) {
    forgeries.push_back(signature_of(r, 0));
  }
  for (const char* key : small_order) {
    for (const Bytes& forged : forgeries) {
      for (unsigned message = 0; message < 64; ++message) {
        CHECK_FALSE(verify(key_of(key), bytes_of(std::to_string(message)), forged));
      }
    }
  }
}

TEST_CASE("after a signature of the wrong length one over both messages joined is refused") {
  const SigningKey key(unhex(rfc8032()[0].at("secret")));
  const Bytes first{'f', 'i', 'r', 's', 't'};
  const Bytes second{'s', 'e', 'c', 'o', 'n', 'd'};
  const Signature over_both = key.sign(joined(first, second));
  for (const std::size_t length : {std::size_t{0}, std::size_t{63}, std::size_t{65}}) {
    Bytes wrong(over_both.begin(), over_both.end());
    wrong.resize(length, 0);
    CHECK_FALSE(verify(key.public_key(), first, wrong));
    CHECK_FALSE(verify(key.public_key(), second, over_both));
  }
  CHECK(verify(key.public_key(), joined(first, second), over_both));
}

TEST_CASE("the table verifies head and body as one message and keeps nothing between calls") {
  BotanContext context;
  const trust::CryptoTable table = botan_table(context);
  const SigningKey key(unhex(rfc8032()[0].at("secret")));
  const Bytes head{'h', 'e', 'a', 'd'};
  const Bytes body{'b', 'o', 'd', 'y'};
  const Signature over_both = key.sign(joined(head, body));
  const auto check = [&](ByteView a, ByteView b, const Signature& signature) {
    return table.ed25519_verify(table.context, key.public_key().data(), a.data(), a.size(),
                                b.data(), b.size(), signature.data());
  };
  CHECK(check(head, body, over_both));
  CHECK(check({}, joined(head, body), over_both));
  CHECK_FALSE(check(body, head, over_both));
  Signature bad = over_both;
  bad[40] ^= 1;
  CHECK_FALSE(check(head, {}, bad));
  CHECK_FALSE(check({}, body, over_both));
  CHECK_FALSE(check(head, {}, over_both));
}

TEST_CASE("two generated keys differ and both sign") {
  const Try<SigningKey> first = SigningKey::generate();
  const Try<SigningKey> second = SigningKey::generate();
  REQUIRE(first);
  REQUIRE(second);
  CHECK(first->public_key() != second->public_key());
  const Bytes message{1};
  CHECK(verify(first->public_key(), message, first->sign(message)));
  CHECK_FALSE(verify(second->public_key(), message, first->sign(message)));
}

TEST_CASE("all published hard cases come out as stated") {
  const auto path = shared_case("vectors/wycheproof_ed25519.json");
  if (!path) {
    return;
  }
  std::ifstream in(*path);
  const auto file = nlohmann::json::parse(in);
  std::size_t cases = 0;
  for (const auto& group : file["testGroups"]) {
    const PublicKey key = key_of(group["publicKey"]["pk"].get<std::string>());
    for (const auto& one : group["tests"]) {
      INFO(one.dump());
      ++cases;
      CHECK(verify(key, unhex(one["msg"].get<std::string>()),
                   unhex(one["sig"].get<std::string>())) == (one["result"] == "valid"));
    }
  }
  CHECK(cases == 151);
}

TEST_CASE("of the published edge cases only number 3 verifies") {
  const auto path = shared_case("vectors/ed25519_edge_cases.json");
  if (!path) {
    return;
  }
  std::ifstream in(*path);
  const auto cases = nlohmann::json::parse(in);
  REQUIRE(cases.size() == 12);
  for (std::size_t number = 0; number < cases.size(); ++number) {
    INFO(number);
    const auto& one = cases[number];
    CHECK(verify(key_of(one["pub_key"].get<std::string>()),
                 unhex(one["message"].get<std::string>()),
                 unhex(one["signature"].get<std::string>())) == (number == 3));
  }
}
