#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "elsewhere.h"
#include "signoff.h"
#include "words.h"
#include "wrapped.h"

namespace cardseal::tool {
namespace {

ToSign to_sign(const Request& request) {
  return {format::Signoff::kind, request.text, "sign-off",
          "options, --time, package and trust list"};
}

void show_view(const package::Package& package, const format::Signoff& s) {
  const std::size_t width = terminal_width();
  say(wrapped(describe(package), width));
  say(wrapped(describe_signoffs(package), width));
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
    return Unexpected(
        at(refused("package-changed", "the package changed between view and signature", "", "",
                   "nothing was signed; look at it again"),
           request.matter.package.file));
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
  TRY(key, crypto::read_public_key_file(io::real_system(), options.elsewhere.public_key));
  TRY(request, make_request(options, std::move(matter), key));
  TRY_VOID(rehearse(request));
  show_view(request.matter.package, request.signoff);
  TRY_VOID(ask_for_name(request));
  TRY_VOID(check_unchanged(request));
  TRY_VOID(write_signed_bytes(options.elsewhere, to_sign(request)));
  note(fmt::format("next: sign that file (Ed25519, 64 raw bytes), then give the same options with "
                   "--attach SIGNATURE for --signed-bytes, and --time {}",
                   words(request.signoff.time)));
  return 0;
}

Ran attach(const SignOptions& options) {
  if (options.time.empty()) {
    return Unexpected(time_missing());
  }
  TRY(matter, read_matter(options));
  TRY(key, crypto::read_public_key_file(io::real_system(), options.elsewhere.public_key));
  TRY(request, make_request(options, std::move(matter), key));
  TRY(signature, read_attached(options.elsewhere, key, to_sign(request)));
  TRY(with, with_signature(request, signature));
  show_view(request.matter.package, request.signoff);
  TRY_VOID(check_unchanged(request));
  return write_package(request, with, ", signed elsewhere");
}

} // namespace

Ran run_sign(const SignOptions& options) {
  TRY(role, to_word(options.role, format::role_words, "the role"));
  (void)role;
  TRY(way, way_of(options.key, options.elsewhere));
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
