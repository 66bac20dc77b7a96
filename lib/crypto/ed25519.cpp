#include "crypto/ed25519.h"

#include <utility>

#include "crypto/botan.h"
#include "io/clock.h"
#include "trust/ed25519_form.h"

namespace cardseal::crypto {

struct SigningKey::Held {
  explicit Held(botan::SecureBytes bytes)
      : seed(std::move(bytes)), key(seed), public_key(key.public_half()) {}
  botan::SecureBytes seed;
  botan::PrivateKey key;
  PublicKey public_key;
};

namespace {

botan::SecureBytes kept(ByteView seed) {
  botan::SecureBytes out(seed_size);
  copy(out.span(), seed);
  return out;
}

} // namespace

Try<SigningKey> SigningKey::generate() {
  botan::SecureBytes seed(seed_size);
  if (Try<void> filled = io::fill_random(seed.span()); !filled) {
    return Unexpected(std::move(filled).error());
  }
  return SigningKey(seed.view());
}

SigningKey::SigningKey(ByteView seed) : held_(std::make_unique<Held>(kept(seed))) {}

SigningKey::SigningKey(SigningKey&& other) noexcept = default;
SigningKey& SigningKey::operator=(SigningKey&& other) noexcept = default;
SigningKey::~SigningKey() = default;

const PublicKey& SigningKey::public_key() const {
  return held_->public_key;
}

Signature SigningKey::sign(ByteView message) const {
  return held_->key.sign(message);
}

ByteView SigningKey::seed() const {
  return held_->seed.view();
}

bool verify(const PublicKey& key, ByteView message, ByteView signature) {
  return trust::public_key_form_ok(key) && trust::signature_form_ok(signature) &&
         botan::verify(key, {}, message, signature);
}

} // namespace cardseal::crypto
