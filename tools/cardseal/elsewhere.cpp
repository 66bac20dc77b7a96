#include "elsewhere.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::tool {
namespace {

Try<crypto::Signature> read_signature(const std::string& file) {
  TRY(bytes, io::read_file(io::real_system(), file, 65'536));
  crypto::Signature signature{};
  if (bytes.size() != signature.size()) {
    return Unexpected(
        at(error_of(ErrorKind::bad_data, "signature-size", "a signature is 64 raw bytes",
                    fmt::format("{} bytes", bytes.size()), "64 bytes",
                    "sign without a digest and without armour, "
                    "such as: openssl pkeyutl -sign -rawin -inkey KEY -in FILE -out SIGNATURE"),
           file));
  }
  std::copy(bytes.begin(), bytes.end(), signature.begin());
  return signature;
}

} // namespace

Try<Way> way_of(const KeySource& key, const Elsewhere& elsewhere) {
  const bool writes = !elsewhere.signed_bytes.empty();
  const bool attaches = !elsewhere.attach.empty();
  if (elsewhere.public_key.empty()) {
    if (writes || attaches) {
      return Unexpected(usage_error("a signature made elsewhere is one of a known key",
                                    "no --public-key", "--public-key FILE"));
    }
    if (key.file.empty()) {
      return Unexpected(usage_error("there is no key to sign with", "no --key",
                                    "--key FILE, or --public-key FILE to sign elsewhere"));
    }
    return Way::here;
  }
  if (!writes && !attaches) {
    return Unexpected(usage_error("--public-key is for signing elsewhere", "neither step",
                                  "--signed-bytes FILE first, --attach SIGNATURE afterwards"));
  }
  if (writes && elsewhere.signed_bytes == "-") {
    return Unexpected(usage_error("standard output shows what will be signed", "--signed-bytes -",
                                  "the name of a file"));
  }
  return writes ? Way::write_bytes : Way::attach;
}

Error time_missing() {
  return usage_error("the time is part of what was signed", "no --time",
                     "--time as it was when the bytes were written");
}

Try<void> write_signed_bytes(const Elsewhere& elsewhere, const ToSign& to_sign) {
  const io::Bytes bytes = seal::signed_bytes(to_sign.kind, to_sign.text);
  TRY_VOID(io::write_file(io::real_system(), elsewhere.signed_bytes, bytes, io::IfExists::refuse));
  say(fmt::format("to sign {}  {} bytes, sha256 {}, for the private key of {}",
                  elsewhere.signed_bytes, bytes.size(), crypto::hex(crypto::sha256(bytes)),
                  elsewhere.public_key));
  note("compare that digest on the machine that signs, and read there what the file says");
  return {};
}

Try<crypto::Signature> read_attached(const Elsewhere& elsewhere, const format::Key& key,
                                     const ToSign& to_sign) {
  TRY(signature, read_signature(elsewhere.attach));
  if (crypto::verify(key, seal::signed_bytes(to_sign.kind, to_sign.text), signature)) {
    return signature;
  }
  return Unexpected(at(
      refused("signature-other",
              fmt::format("this is not the key's signature over this {}", to_sign.what), "",
              fmt::format("one by the private key of {}", elsewhere.public_key),
              fmt::format("nothing was added; give the very {} with which the bytes were written, "
                          "or write them again",
                          to_sign.made_with)),
      elsewhere.attach));
}

} // namespace cardseal::tool
