#include "crypto/pkcs8.h"

#include <cstring>
#include <optional>
#include <string>

#include "crypto/botan.h"
#include "io/clock.h"

namespace cardseal::crypto {

namespace {

using botan::Bytes;

constexpr std::uint8_t der_integer = 0x02;
constexpr std::uint8_t der_octets = 0x04;
constexpr std::uint8_t der_sequence = 0x30;
constexpr std::size_t block_size = 16;

// Whole DER values, tag and length with them.
constexpr std::uint8_t oid_pbes2[] = {0x06, 0x09, 0x2a, 0x86, 0x48, 0x86,
                                      0xf7, 0x0d, 0x01, 0x05, 0x0d}; // 1.2.840.113549.1.5.13
constexpr std::uint8_t oid_pbkdf2[] = {0x06, 0x09, 0x2a, 0x86, 0x48, 0x86,
                                       0xf7, 0x0d, 0x01, 0x05, 0x0c}; // 1.2.840.113549.1.5.12
constexpr std::uint8_t hmac_sha256[] = {
    0x30, 0x0c, 0x06, 0x08, 0x2a, 0x86, 0x48,
    0x86, 0xf7, 0x0d, 0x02, 0x09, 0x05, 0x00}; // 1.2.840.113549.2.9, NULL
constexpr std::uint8_t oid_aes256_cbc[] = {0x06, 0x09, 0x60, 0x86, 0x48, 0x01,
                                           0x65, 0x03, 0x04, 0x01, 0x2a}; // 2.16.840.1.101.3.4.1.42
// PrivateKeyInfo of RFC 8410 section 7 up to the seed: without and with the public half behind it.
constexpr std::uint8_t info_v1[] = {0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06,
                                    0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20};
constexpr std::uint8_t info_v2[] = {0x30, 0x51, 0x02, 0x01, 0x01, 0x30, 0x05, 0x06,
                                    0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20};
constexpr std::uint8_t public_half_follows[] = {0x81, 0x21, 0x00};
constexpr std::size_t info_v2_size = sizeof(info_v2) + seed_size + sizeof(public_half_follows) + 32;

Error key_error(ErrorKind kind, const char* code, const char* what, const char* hint) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = what;
  error.hint = hint;
  return error;
}

Error bad_form() {
  return key_error(ErrorKind::bad_data, "key-form", "private key file is damaged",
                   "get it from its backup");
}

Error other_encryption(std::string found) {
  Error error = key_error(ErrorKind::bad_data, "key-encryption",
                          "private key is encrypted in a way that is not accepted",
                          "convert it: openssl pkcs8 -topk8 -v2 aes-256-cbc -v2prf hmacWithSHA256 "
                          "-iter 600000 -in OLD -out NEW");
  error.found = std::move(found);
  error.expected = "PBES2 with PBKDF2, HMAC-SHA-256 and AES-256-CBC";
  return error;
}

Error wrong_passphrase() {
  return key_error(ErrorKind::permission, "key-passphrase",
                   "passphrase does not open the private key", "type the passphrase of this key");
}

void append(Bytes& out, ByteView bytes) {
  out.insert(out.end(), bytes.begin(), bytes.end());
}

// Contents of less than 64 KiB.
Bytes der(std::uint8_t tag, ByteView contents) {
  Bytes out{tag};
  const std::size_t size = contents.size();
  if (size >= 0x100) {
    out.push_back(0x82);
    out.push_back(static_cast<std::uint8_t>(size >> 8));
  } else if (size >= 0x80) {
    out.push_back(0x81);
  }
  out.push_back(static_cast<std::uint8_t>(size));
  append(out, contents);
  return out;
}

Bytes der_number(std::uint32_t value) {
  std::array<std::uint8_t, 5> bytes{}; // the first stays zero: a set top bit would mean negative
  store_be32(bytes.data() + 1, value);
  std::size_t from = 0;
  while (from + 1 < bytes.size() && bytes[from] == 0 && bytes[from + 1] < 0x80) {
    ++from;
  }
  return der(der_integer, ByteView(bytes).subspan(from));
}

// Takes DER values off the front of bytes; after a failure everything fails.
class DerReader {
public:
  explicit DerReader(ByteView bytes) : rest_(bytes) {}

  bool failed() const { return failed_; }
  bool at_end() const { return rest_.empty(); }
  bool next_is(std::uint8_t tag) const { return !rest_.empty() && rest_[0] == tag; }

  bool take_exact(ByteView value) {
    const bool same = rest_.size() >= value.size() && equal(rest_.first(value.size()), value);
    if (same) {
      rest_ = rest_.subspan(value.size());
    }
    return same;
  }

  ByteView take(std::uint8_t tag) {
    std::size_t header = 2;
    std::size_t size = rest_.size() < 2 ? 0 : rest_[1];
    if (size == 0x81 && rest_.size() > 2 && rest_[2] >= 0x80) {
      header = 3;
      size = rest_[2];
    } else if (size == 0x82 && rest_.size() > 3 && rest_[2] != 0) {
      header = 4;
      size = load_be16(&rest_[2]);
    } else if (size >= 0x80) {
      return fail();
    }
    if (!next_is(tag) || rest_.size() < header || rest_.size() - header < size) {
      return fail();
    }
    const ByteView contents = rest_.subspan(header, size);
    rest_ = rest_.subspan(header + size);
    return contents;
  }

  // 0 when it is negative or does not fit 32 bits.
  std::uint32_t take_number() {
    const ByteView bytes = take(der_integer);
    if (bytes.empty() || bytes[0] >= 0x80 || bytes.size() > 5 ||
        (bytes.size() == 5 && bytes[0] != 0)) {
      return 0;
    }
    std::uint32_t value = 0;
    for (const std::uint8_t byte : bytes) {
      value = (value << 8) | byte;
    }
    return value;
  }

private:
  ByteView fail() {
    failed_ = true;
    rest_ = {};
    return {};
  }
  ByteView rest_;
  bool failed_ = false;
};

struct Sealed {
  ByteView salt;
  std::uint32_t iterations = 0;
  ByteView start; // of the cipher's chain
  ByteView body;
};

Try<void> read_kdf(DerReader& schemes, Sealed& sealed) {
  DerReader kdf(schemes.take(der_sequence));
  if (!kdf.take_exact(oid_pbkdf2)) {
    return Unexpected(other_encryption("another key derivation"));
  }
  DerReader parameters(kdf.take(der_sequence));
  sealed.salt = parameters.take(der_octets);
  sealed.iterations = parameters.take_number();
  if (parameters.next_is(der_integer) && parameters.take_number() != 32) {
    return Unexpected(other_encryption("another key length"));
  }
  if (parameters.failed() || sealed.salt.empty()) {
    return Unexpected(bad_form());
  }
  // HMAC-SHA-1 is the default, so it is what is meant when nothing stands here.
  if (!parameters.take_exact(hmac_sha256) || !parameters.at_end() || !kdf.at_end()) {
    return Unexpected(other_encryption("another hash"));
  }
  if (sealed.iterations == 0 || sealed.iterations > max_key_iterations) {
    Error error = other_encryption(std::to_string(sealed.iterations) + " iterations");
    error.expected = "1 to " + std::to_string(max_key_iterations) + " iterations";
    return Unexpected(std::move(error));
  }
  return {};
}

Try<void> read_cipher(DerReader& schemes, Sealed& sealed) {
  DerReader cipher(schemes.take(der_sequence));
  if (!cipher.take_exact(oid_aes256_cbc)) {
    return Unexpected(other_encryption("another cipher"));
  }
  sealed.start = cipher.take(der_octets);
  if (sealed.start.size() != block_size || !cipher.at_end() || !schemes.at_end()) {
    return Unexpected(bad_form());
  }
  return {};
}

Try<Sealed> read_sealed(ByteView der_bytes) {
  DerReader all(der_bytes);
  DerReader outer(all.take(der_sequence));
  if (!all.failed() && !all.at_end()) {
    return Unexpected(key_error(ErrorKind::bad_data, "key-trailing",
                                "private key is followed by other bytes",
                                "keep one key in the file and nothing else"));
  }
  DerReader algorithm(outer.take(der_sequence));
  Sealed sealed;
  sealed.body = outer.take(der_octets);
  const bool whole_blocks = !sealed.body.empty() && sealed.body.size() % block_size == 0;
  if (all.failed() || outer.failed() || !outer.at_end() || !whole_blocks) {
    return Unexpected(bad_form());
  }
  if (!algorithm.take_exact(oid_pbes2)) {
    return Unexpected(other_encryption("another scheme"));
  }
  DerReader schemes(algorithm.take(der_sequence));
  if (!algorithm.at_end()) {
    return Unexpected(bad_form());
  }
  if (Try<void> kdf = read_kdf(schemes, sealed); !kdf) {
    return Unexpected(std::move(kdf).error());
  }
  if (Try<void> cipher = read_cipher(schemes, sealed); !cipher) {
    return Unexpected(std::move(cipher).error());
  }
  return sealed;
}

bool starts_with(ByteView bytes, ByteView start) {
  return bytes.size() >= start.size() && equal(bytes.first(start.size()), start);
}

// Something that can only be a private key, though not one of ours: what a wrong passphrase gives
// looks like this once in millions.
bool is_some_key_info(ByteView info) {
  DerReader all(info);
  DerReader inner(all.take(der_sequence));
  const ByteView version = inner.take(der_integer);
  inner.take(der_sequence);
  inner.take(der_octets);
  return !all.failed() && !inner.failed() && version.size() == 1 && version[0] <= 1;
}

Try<SigningKey> other_key(ByteView info) {
  if (!is_some_key_info(info)) {
    return Unexpected(wrong_passphrase());
  }
  // Version and algorithm are those of ours, so what differs stands behind the seed.
  if (starts_with(info.subspan(5), ByteView(info_v1).subspan(5)) && info[1] < 0x80) {
    return Unexpected(key_error(ErrorKind::bad_data, "key-trailing",
                                "private key is followed by other bytes",
                                "keep one key in the file and nothing else"));
  }
  Error error = key_error(ErrorKind::bad_data, "key-algorithm", "private key is of another kind",
                          "make a key with cardseal key");
  error.expected = "Ed25519";
  return Unexpected(std::move(error));
}

Try<SigningKey> key_of(ByteView info) {
  constexpr std::size_t seed_at = sizeof(info_v1);
  const bool is_v2 = starts_with(info, info_v2) && info.size() == info_v2_size &&
                     starts_with(info.subspan(seed_at + seed_size), public_half_follows);
  const bool is_v1 = starts_with(info, info_v1) && info.size() == seed_at + seed_size;
  if (!is_v1 && !is_v2) {
    return other_key(info);
  }
  SigningKey key(info.subspan(seed_at, seed_size));
  if (is_v2 && !equal(info.last(32), key.public_key())) {
    return Unexpected(key_error(ErrorKind::bad_data, "key-public-half",
                                "public half in the key file does not belong to the private key",
                                "the file was altered; get it from its backup"));
  }
  return key;
}

} // namespace

KeyInfo::KeyInfo(const SigningKey& key) {
  copy(ByteSpan(bytes_).first(sizeof(info_v1)), info_v1);
  copy(ByteSpan(bytes_).last(seed_size), key.seed());
}

KeyInfo::~KeyInfo() {
  ::explicit_bzero(bytes_.data(), bytes_.size());
}

Try<Bytes> encrypt_key_info(ByteView key_info, std::string_view passphrase,
                            std::uint32_t iterations) {
  std::array<std::uint8_t, 2 * block_size> chance{};
  if (Try<void> filled = io::fill_random(chance); !filled) {
    return Unexpected(std::move(filled).error());
  }
  const ByteView salt = ByteView(chance).first(block_size);
  const ByteView start = ByteView(chance).last(block_size);
  Bytes parameters = der(der_octets, salt);
  append(parameters, der_number(iterations));
  append(parameters, hmac_sha256);
  Bytes kdf(std::begin(oid_pbkdf2), std::end(oid_pbkdf2));
  append(kdf, der(der_sequence, parameters));
  Bytes cipher(std::begin(oid_aes256_cbc), std::end(oid_aes256_cbc));
  append(cipher, der(der_octets, start));
  Bytes schemes = der(der_sequence, kdf);
  append(schemes, der(der_sequence, cipher));
  Bytes algorithm(std::begin(oid_pbes2), std::end(oid_pbes2));
  append(algorithm, der(der_sequence, schemes));
  Bytes outer = der(der_sequence, algorithm);
  const botan::SecureBytes key = botan::derive_key(passphrase, salt, iterations);
  append(outer, der(der_octets, botan::encrypt_cbc(key, start, key_info)));
  return der(der_sequence, outer);
}

Try<SigningKey> decrypt_key(ByteView der_bytes, std::string_view passphrase) {
  Try<Sealed> sealed = read_sealed(der_bytes);
  if (!sealed) {
    return Unexpected(std::move(sealed).error());
  }
  const botan::SecureBytes key = botan::derive_key(passphrase, sealed->salt, sealed->iterations);
  const std::optional<botan::SecureBytes> info =
      botan::decrypt_cbc(key, sealed->start, sealed->body);
  if (!info) {
    return Unexpected(wrong_passphrase());
  }
  return key_of(info->view());
}

} // namespace cardseal::crypto
