#include "crypto/table.h"

#include "crypto/botan.h"

namespace cardseal::crypto {
namespace {

using trust::digest_size;
using trust::public_key_size;
using trust::signature_size;

Sha256& hash_of(void* context) {
  return static_cast<BotanContext*>(context)->hash();
}

void start(void* context) {
  (void)hash_of(context).finish();
} // drops what was left unfinished

void add(void* context, const std::uint8_t* bytes, std::size_t size) {
  hash_of(context).update({bytes, size});
}

void finish(void* context, std::uint8_t digest[digest_size]) {
  copy({digest, digest_size}, hash_of(context).finish());
}

bool verify(void*, const std::uint8_t key[public_key_size], const std::uint8_t* head,
            std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
            const std::uint8_t signature[signature_size]) {
  return botan::verify({key, public_key_size}, {head, head_size}, {body, body_size},
                       {signature, signature_size});
}

} // namespace

trust::CryptoTable botan_table(BotanContext& context) {
  return {&context, start, add, finish, verify};
}

} // namespace cardseal::crypto
