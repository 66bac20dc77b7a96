#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "view/json.h"

namespace cardseal::tool {
namespace {

std::string default_public(const std::string& file) {
  const std::size_t dot = file.rfind(".pem");
  return (dot == std::string::npos || dot + 4 != file.size() ? file : file.substr(0, dot)) + ".pub";
}

} // namespace

Ran run_key_new(const KeyNewOptions& options) {
  io::System& system = io::real_system();
  const std::string public_file =
      options.public_file.empty() ? default_public(options.key.file) : options.public_file;
  TRY(passphrase, io::read_secret(system, options.key.passphrase,
                                  fmt::format("new passphrase for {}", options.key.file), true));
  TRY(key, crypto::SigningKey::generate());
  // Opened first, so that no private key is left whose public key could not be written.
  TRY(public_key, io::NewFile::create(system, public_file, io::IfExists::refuse));
  TRY_VOID(public_key.write_at(0, bytes_of(crypto::public_key_pem(key.public_key()))));
  TRY_VOID(crypto::write_key_file(system, options.key.file, key, passphrase.view(),
                                  io::IfExists::refuse));
  TRY_VOID(public_key.commit());
  say(fmt::format("private key  {}  (keep it; never send it)", options.key.file));
  say(fmt::format("public key   {}", public_file));
  say(fmt::format("key          {}", crypto::hex(key.public_key())));
  return 0;
}

Ran run_key_show(const KeyShowOptions& options) {
  TRY(key, crypto::read_public_key_file(io::real_system(), options.file));
  if (options.json) {
    say(view::json_of_key(key));
  } else {
    say(fmt::format("key  {}", crypto::hex(key)));
    say(fmt::format("aloud  {}", seal::spoken(key)));
  }
  return 0;
}

} // namespace cardseal::tool
