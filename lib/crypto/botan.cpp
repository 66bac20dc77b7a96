#include "crypto/botan.h"

#include <cstdlib>
#include <cstring>
#include <exception>
#include <string>

#include <botan/cipher_mode.h>
#include <botan/ed25519.h>
#include <botan/hash.h>
#include <botan/pem.h>
#include <botan/pubkey.h>
#include <botan/pwdhash.h>
#include <botan/rng.h>
#include <botan/version.h>
#include <unistd.h>

namespace cardseal::crypto::botan {

namespace {

using Wiped = Botan::secure_vector<std::uint8_t>;

// Memory that holds keys is locked page by page before the first of it is used: the library's own
// 128 pages of 4 KiB, with five calls each, are a quarter of the time that a short command takes.
// All that is held here at one time fits 6 pages, whatever their size. Whoever sets the variable
// has the last word; it is in KiB, and read at the first use.
int lock_few_pages() {
  const std::string kib = std::to_string(8 * ::sysconf(_SC_PAGESIZE) / 1024);
  return ::setenv("BOTAN_MLOCK_POOL_SIZE", kib.c_str(), 0);
}
const int few_pages_locked = lock_few_pages();

#if BOTAN_VERSION_MAJOR >= 3
constexpr auto encrypting = Botan::Cipher_Dir::Encryption;
constexpr auto decrypting = Botan::Cipher_Dir::Decryption;
#else
constexpr auto encrypting = Botan::ENCRYPTION;
constexpr auto decrypting = Botan::DECRYPTION;
#endif

// "Pure" alone: the name of a hash here selects another scheme without a word.
constexpr const char* padding = "Pure";

// Later versions name this constructor, because 64 bytes would be taken as seed and public half.
template <class Key>
Key key_from(const Wiped& seed) {
  if constexpr (requires { Key::from_seed(seed); }) {
    return Key::from_seed(seed);
  } else {
    return Key(seed);
  }
}

std::unique_ptr<Botan::Cipher_Mode> cipher(Botan::Cipher_Dir direction, ByteView key,
                                           ByteView start) {
  auto mode = Botan::Cipher_Mode::create_or_throw("AES-256/CBC/PKCS7", direction);
  mode->set_key(key.data(), key.size());
  mode->start(start.data(), start.size());
  return mode;
}

} // namespace

struct Hash::Inner {
  std::unique_ptr<Botan::HashFunction> function = Botan::HashFunction::create_or_throw("SHA-256");
};

Hash::Hash() : inner_(std::make_unique<Inner>()) {}
Hash::~Hash() = default;

void Hash::update(ByteView bytes) {
  inner_->function->update(bytes.data(), bytes.size());
}

void Hash::finish(ByteSpan digest) {
  inner_->function->final(digest.data());
}

struct SecureBytes::Inner {
  Wiped bytes;
};

SecureBytes::SecureBytes(std::size_t size) : inner_(new Inner{Wiped(size)}) {}
SecureBytes::SecureBytes(SecureBytes&& other) noexcept = default;
SecureBytes& SecureBytes::operator=(SecureBytes&& other) noexcept = default;
SecureBytes::~SecureBytes() = default;

ByteSpan SecureBytes::span() {
  return inner_->bytes;
}

ByteView SecureBytes::view() const {
  return inner_->bytes;
}

struct PrivateKey::Inner {
  Botan::Ed25519_PrivateKey key;
};

PrivateKey::PrivateKey(const SecureBytes& seed)
    : inner_(new Inner{
          key_from<Botan::Ed25519_PrivateKey>(Wiped(seed.view().begin(), seed.view().end()))}) {}
PrivateKey::PrivateKey(PrivateKey&& other) noexcept = default;
PrivateKey& PrivateKey::operator=(PrivateKey&& other) noexcept = default;
PrivateKey::~PrivateKey() = default;

Block32 PrivateKey::public_half() const {
  Block32 out{};
  copy(out, inner_->key.public_key_bits());
  return out;
}

Block64 PrivateKey::sign(ByteView message) const {
  Botan::Null_RNG no_chance; // Ed25519 signatures take none
  Botan::PK_Signer signer(inner_->key, no_chance, padding);
  signer.update(message.data(), message.size());
  Block64 out{};
  copy(out, signer.signature(no_chance));
  return out;
}

bool verify(ByteView key, ByteView head, ByteView body, ByteView signature) {
  try {
    const Botan::Ed25519_PublicKey public_key(key.data(), key.size());
    // A new one each time: after a refused signature an old one may still hold its message.
    Botan::PK_Verifier verifier(public_key, padding);
    verifier.update(head.data(), head.size());
    verifier.update(body.data(), body.size());
    return verifier.check_signature(signature.data(), signature.size());
  } catch (const std::exception&) {
    return false;
  }
}

SecureBytes derive_key(std::string_view passphrase, ByteView salt, std::uint32_t iterations) {
  const auto family = Botan::PasswordHashFamily::create_or_throw("PBKDF2(HMAC(SHA-256))");
  SecureBytes out(32);
  const ByteSpan key = out.span();
  family->from_params(iterations)
      ->derive_key(key.data(), key.size(), passphrase.data(), passphrase.size(), salt.data(),
                   salt.size());
  return out;
}

Bytes encrypt_cbc(const SecureBytes& key, ByteView start, ByteView plain) {
  Wiped buffer(plain.begin(), plain.end());
  cipher(encrypting, key.view(), start)->finish(buffer);
  return {buffer.begin(), buffer.end()};
}

std::optional<SecureBytes> decrypt_cbc(const SecureBytes& key, ByteView start, ByteView sealed) {
  SecureBytes out(0);
  out.inner_->bytes.assign(sealed.begin(), sealed.end());
  try {
    cipher(decrypting, key.view(), start)->finish(out.inner_->bytes);
  } catch (const std::exception&) { // the padding is wrong, or there is no whole block
    return std::nullopt;
  }
  return out;
}

std::string pem_encode(ByteView der, const std::string& label) {
  return Botan::PEM_Code::encode(der.data(), der.size(), label);
}

std::optional<Bytes> pem_decode(const std::string& text) {
  try {
    std::string label;
    const Wiped der = Botan::PEM_Code::decode(text, label);
    return Bytes(der.begin(), der.end());
  } catch (const std::exception&) {
    return std::nullopt;
  }
}

} // namespace cardseal::crypto::botan
