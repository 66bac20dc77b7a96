// Key files. Private: encrypted PKCS #8 as PEM, readable by `openssl pkey`; made with mode 0600 and
// refused with any group or other bit. Public: SubjectPublicKeyInfo as PEM (RFC 8410 section 4).
// Both hold one key in the one form that writing gives, and nothing else; CRLF line ends are
// accepted.
//
// Codes: passphrase-empty, key-unencrypted, key-mode, key-form, key-trailing, key-encryption,
// key-passphrase, key-algorithm, key-public-half, public-key-form, public-key-trailing,
// public-key-algorithm, public-key-weak; and those of io.
#pragma once

#include <string>

#include "crypto/ed25519.h"
#include "io/file.h"

namespace cardseal::crypto {

Try<void> write_key_file(io::System& system, const io::Path& path, const SigningKey& key,
                         std::string_view passphrase, io::IfExists if_exists);
Try<SigningKey> read_key_file(io::System& system, const io::Path& path,
                              std::string_view passphrase);
// `file` is what errors name.
Try<SigningKey> key_from_pem(std::string_view text, std::string_view passphrase,
                             const std::string& file);

Try<void> write_public_key_file(io::System& system, const io::Path& path, const PublicKey& key,
                                io::IfExists if_exists);
Try<PublicKey> read_public_key_file(io::System& system, const io::Path& path);
std::string public_key_pem(const PublicKey& key);
Try<PublicKey> public_key_from_pem(std::string_view text, const std::string& file);

} // namespace cardseal::crypto
