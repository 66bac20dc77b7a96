#include "trust/ed25519_form.h"

#include "support/catch.h"
#include "support/hex.h"

using namespace cardseal;
using namespace cardseal::trust;
using cardseal::test::unhex;

namespace {

// All encodings of the eight points whose order divides 8, canonical or not. Computed apart from
// the product, in Python integers: L (RFC 8032 section 5.1) times a point of the curve and its
// multiples, then y and y + p where that is below 2^255, and both signs where x is 0.
constexpr const char* small_order[] = {
    "0100000000000000000000000000000000000000000000000000000000000000",
    "0100000000000000000000000000000000000000000000000000000000000080",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
};

// RFC 8032 section 7.1, TEST 1 to TEST SHA(abc).
constexpr const char* good_keys[] = {
    "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
    "278117fc144c72340f67d0f2316e8386ceffbf2b2428c9c51fef7c597f1d426e",
    "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
};

constexpr const char* order = "edd3f55c1a631258d69cf7a2def9de14"
                              "00000000000000000000000000000010"; // L, RFC 8032 section 5.1

std::vector<std::uint8_t> signature_with(const char* r, std::vector<std::uint8_t> s) {
  std::vector<std::uint8_t> out = unhex(r);
  out.insert(out.end(), s.begin(), s.end());
  return out;
}

} // namespace

TEST_CASE("no spelling of a point of small order is a key") {
  for (const char* key : small_order) {
    INFO(key);
    CHECK_FALSE(public_key_form_ok(unhex(key)));
  }
}

TEST_CASE("published keys have the form of a key, and one bit from a small-order point is enough") {
  for (const char* key : good_keys) {
    INFO(key);
    CHECK(public_key_form_ok(unhex(key)));
  }
  // y = 2 and p - 2: form only; whether such a point exists is the library's to say.
  CHECK(public_key_form_ok(
      unhex("0200000000000000000000000000000000000000000000000000000000000000")));
  CHECK(public_key_form_ok(
      unhex("ebffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f")));
  for (const char* key : {small_order[10], small_order[12]}) {
    std::vector<std::uint8_t> near = unhex(key);
    near[16] ^= 0x10;
    CHECK(public_key_form_ok(near));
  }
}

TEST_CASE("a y of p or more is no key") {
  for (unsigned low = 0xed; low <= 0xff; ++low) {
    std::vector<std::uint8_t> key(32, 0xff);
    key[0] = static_cast<std::uint8_t>(low);
    CHECK_FALSE(public_key_form_ok(key));
    key[31] = 0x7f;
    CHECK_FALSE(public_key_form_ok(key));
  }
}

TEST_CASE("a key of another length is no key") {
  std::vector<std::uint8_t> key = unhex(good_keys[0]);
  key.push_back(0);
  CHECK_FALSE(public_key_form_ok(key));
  CHECK_FALSE(public_key_form_ok(ByteView(key).first(31)));
  CHECK_FALSE(public_key_form_ok({}));
}

TEST_CASE("the second half of a signature is below the group order") {
  std::vector<std::uint8_t> s = unhex(order);
  CHECK_FALSE(signature_form_ok(signature_with(good_keys[0], s)));
  s[0] -= 1; // L - 1
  CHECK(signature_form_ok(signature_with(good_keys[0], s)));
  s[0] += 2; // L + 1
  CHECK_FALSE(signature_form_ok(signature_with(good_keys[0], s)));
  CHECK(signature_form_ok(signature_with(good_keys[0], std::vector<std::uint8_t>(32, 0))));
  for (unsigned bit = 5; bit < 8; ++bit) { // 2^253 and more
    std::vector<std::uint8_t> high(32, 0);
    high[31] = static_cast<std::uint8_t>(1U << bit);
    CHECK_FALSE(signature_form_ok(signature_with(good_keys[0], high)));
  }
}

TEST_CASE("the first half of a signature has the form of a key, and there are 64 bytes") {
  const std::vector<std::uint8_t> good = [&] {
    std::vector<std::uint8_t> low(32, 0);
    low[0] = 1;
    return signature_with(good_keys[1], low);
  }();
  REQUIRE(signature_form_ok(good));
  for (const char* r : small_order) {
    CHECK_FALSE(signature_form_ok(
        signature_with(r, std::vector<std::uint8_t>(good.begin() + 32, good.end()))));
  }
  std::vector<std::uint8_t> longer = good;
  longer.push_back(0);
  CHECK_FALSE(signature_form_ok(longer));
  CHECK_FALSE(signature_form_ok(ByteView(good).first(63)));
  CHECK_FALSE(signature_form_ok({}));
}
