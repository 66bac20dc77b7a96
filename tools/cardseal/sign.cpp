#include "commands.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "signoff.h"
#include "words.h"

namespace cardseal::tool {
namespace {

enum class Way : std::uint8_t { here, write_bytes, attach };

Try<Way> way_of(const SignOptions& options) {
  const bool writes = !options.signed_bytes.empty();
  const bool attaches = !options.attach.empty();
  if (options.public_key.empty()) {
    if (writes || attaches) {
      return Unexpected(usage_error("a signature made elsewhere is one of a known key",
                                    "no --public-key", "--public-key FILE"));
    }
    if (options.key.file.empty()) {
      return Unexpected(usage_error("there is no key to sign with", "no --key",
                                    "--key FILE, or --public-key FILE to sign elsewhere"));
    }
    return Way::here;
  }
  if (!writes && !attaches) {
    return Unexpected(usage_error("--public-key is for signing elsewhere", "neither step",
                                  "--signed-bytes FILE first, --attach SIGNATURE afterwards"));
  }
  if (writes && options.signed_bytes == "-") {
    return Unexpected(usage_error("standard output shows what will be signed", "--signed-bytes -",
                                  "the name of a file"));
  }
  if (attaches && options.time.empty()) {
    return Unexpected(usage_error("the time is part of what was signed", "no --time",
                                  "--time as it was when the bytes were written"));
  }
  return writes ? Way::write_bytes : Way::attach;
}

void show_view(const package::Package& package, const format::Signoff& s) {
  say(describe(package));
  say(describe_signoffs(package));
  say("you are about to sign");
  say(fmt::format("  {:<18}{} in role {}", "person", s.person.view(),
                  format::role_words[static_cast<std::size_t>(s.role)]));
  say(fmt::format("  {:<18}{}", "meaning", escaped(s.meaning.view())));
  say(fmt::format("  {:<18}{}", "reason", escaped(s.reason.view())));
  say(fmt::format("  {:<18}{}", "time claimed", words(s.time)));
  say(fmt::format("  {:<18}{}", "limits", limit_words(s)));
}

Try<void> ask_for_name(const Request& request) {
  const std::string name = release_name(request.matter.package.manifest);
  TRY(typed,
      io::ask(io::real_system(), fmt::format("type the release's name to sign ({}): ", name)));
  if (typed != name) {
    Error error =
        usage_error("the name typed is not the release's", typed, name, "nothing was signed");
    error.kind = ErrorKind::refused;
    error.code = "name-typed";
    return Unexpected(std::move(error));
  }
  return {};
}

// What was shown is what is signed: the file must not have changed meanwhile.
Try<void> check_unchanged(const Request& request) {
  TRY(now, io::read_file(io::real_system(), request.matter.package.file, package::max_package));
  if (now != request.matter.package.bytes) {
    Error error;
    error.kind = ErrorKind::refused;
    error.code = "package-changed";
    error.what = "the package changed between view and signature";
    error.place.file = request.matter.package.file;
    error.hint = "nothing was signed; look at it again";
    return Unexpected(std::move(error));
  }
  return {};
}

Ran write_package(const Request& request, const io::Bytes& with, const char* how) {
  TRY_VOID(
      io::write_file(io::real_system(), request.matter.package.file, with, io::IfExists::replace));
  say(fmt::format("signed  {}  sign-off {:02} by {} in role {}{}", request.matter.package.file,
                  request.matter.package.signoffs.size() + 1, request.signoff.person.view(),
                  format::role_words[static_cast<std::size_t>(request.signoff.role)], how));
  return 0;
}

Ran sign_here(const SignOptions& options) {
  TRY(matter, read_matter(options));
  TRY(key, open_key(options.key));
  TRY(request, make_request(options, std::move(matter), key.public_key()));
  TRY(with, with_signature(request, seal::sign(key, format::Signoff::kind, request.text)));
  show_view(request.matter.package, request.signoff);
  TRY_VOID(ask_for_name(request));
  TRY_VOID(check_unchanged(request));
  return write_package(request, with, "");
}

Ran write_bytes(const SignOptions& options) {
  TRY(matter, read_matter(options));
  TRY(key, crypto::read_public_key_file(io::real_system(), options.public_key));
  TRY(request, make_request(options, std::move(matter), key));
  TRY_VOID(rehearse(request));
  show_view(request.matter.package, request.signoff);
  TRY_VOID(ask_for_name(request));
  TRY_VOID(check_unchanged(request));
  const io::Bytes bytes = seal::signed_bytes(format::Signoff::kind, request.text);
  TRY_VOID(io::write_file(io::real_system(), options.signed_bytes, bytes, io::IfExists::refuse));
  say(fmt::format("to sign {}  {} bytes, sha256 {}, for the private key of {}",
                  options.signed_bytes, bytes.size(), crypto::hex(crypto::sha256(bytes)),
                  options.public_key));
  note("compare that digest on the machine that signs, and read there what the file says");
  note(fmt::format("next: sign that file (Ed25519, 64 raw bytes), then give the same options with "
                   "--attach SIGNATURE for --signed-bytes, and --time {}",
                   words(request.signoff.time)));
  return 0;
}

Try<crypto::Signature> read_signature(const std::string& file) {
  TRY(bytes, io::read_file(io::real_system(), file, 65'536));
  crypto::Signature signature{};
  if (bytes.size() != signature.size()) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "signature-size";
    error.what = "a signature is 64 raw bytes";
    error.place.file = file;
    error.found = fmt::format("{} bytes", bytes.size());
    error.expected = "64 bytes";
    error.hint = "sign without a digest and without armour, "
                 "such as: openssl pkeyutl -sign -rawin -inkey KEY -in FILE -out SIGNATURE";
    return Unexpected(std::move(error));
  }
  std::copy(bytes.begin(), bytes.end(), signature.begin());
  return signature;
}

Error other_signature(const SignOptions& options) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "signature-other";
  error.what = "this is not the key's signature over this sign-off";
  error.place.file = options.attach;
  error.expected = fmt::format("one by the private key of {}", options.public_key);
  error.hint = "nothing was added; give the very options, --time, package and trust list with "
               "which the bytes were written, or write them again";
  return error;
}

Ran attach(const SignOptions& options) {
  TRY(matter, read_matter(options));
  TRY(key, crypto::read_public_key_file(io::real_system(), options.public_key));
  TRY(signature, read_signature(options.attach));
  TRY(request, make_request(options, std::move(matter), key));
  const io::Bytes bytes = seal::signed_bytes(format::Signoff::kind, request.text);
  if (!crypto::verify(key, bytes, signature)) {
    return Unexpected(other_signature(options));
  }
  TRY(with, with_signature(request, signature));
  show_view(request.matter.package, request.signoff);
  TRY_VOID(check_unchanged(request));
  return write_package(request, with, ", signed elsewhere");
}

} // namespace

Ran run_sign(const SignOptions& options) {
  TRY(way, way_of(options));
  switch (way) {
  case Way::here:
    return sign_here(options);
  case Way::write_bytes:
    return write_bytes(options);
  case Way::attach:
    return attach(options);
  }
  return 0;
}

} // namespace cardseal::tool
