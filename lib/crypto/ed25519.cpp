#include "crypto/ed25519.h"

#include <utility>

#include "crypto/botan.h"
#include "io/clock.h"
#include "trust/ed25519_form.h"

namespace cardseal::crypto {

struct SigningKey::Held {
  botan::SecureBytes seed{seed_size};
  PublicKey public_key{};
};

Try<SigningKey> SigningKey::generate() {
  auto held = std::make_unique<Held>();
  if (Try<void> filled = io::fill_random(held->seed.span()); !filled) {
    return Unexpected(std::move(filled).error());
  }
  return SigningKey(std::move(held));
}

SigningKey::SigningKey(ByteView seed) : held_(std::make_unique<Held>()) {
  copy(held_->seed.span(), seed);
  held_->public_key = botan::public_half(held_->seed);
}

SigningKey::SigningKey(std::unique_ptr<Held> held) : held_(std::move(held)) {
  held_->public_key = botan::public_half(held_->seed);
}

SigningKey::SigningKey(SigningKey&& other) noexcept = default;
SigningKey& SigningKey::operator=(SigningKey&& other) noexcept = default;
SigningKey::~SigningKey() = default;

const PublicKey& SigningKey::public_key() const {
  return held_->public_key;
}

Signature SigningKey::sign(ByteView message) const {
  return botan::sign(held_->seed, message);
}

ByteView SigningKey::seed() const {
  return held_->seed.view();
}

bool verify(const PublicKey& key, ByteView message, ByteView signature) {
  return trust::public_key_form_ok(key) && trust::signature_form_ok(signature) &&
         botan::verify(key, {}, message, signature);
}

} // namespace cardseal::crypto
