#include "trust_parts.h"

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::tool {

Error bad_part(const char* what, const std::string& found, const char* expected) {
  return usage_error(fmt::format("{} is not in its form", what), found, expected);
}

Try<format::Person> to_person(const std::string& text) {
  const std::size_t colon = text.find(':');
  if (colon == std::string::npos) {
    return Unexpected(bad_part("a person", text, "ID:NAME"));
  }
  TRY(id, to_id(text.substr(0, colon), "the person's id"));
  TRY(name, to_text<24>(text.substr(colon + 1), "the person's name"));
  return format::Person{id, name};
}

io::Path kept_before(const std::string& list) {
  return io::Path(list).concat(".before");
}

Try<void> confirm(const std::string& name, const std::string& given) {
  std::string typed = given;
  if (given.empty()) {
    TRY(line, io::ask(io::real_system(), fmt::format("type {} to sign it: ", name)));
    typed = line;
  }
  if (typed == name) {
    return {};
  }
  Error error =
      usage_error("what was typed is not what would be signed", typed, name, "nothing was signed");
  error.kind = ErrorKind::refused;
  error.code = "name-typed";
  return Unexpected(std::move(error));
}

void describe_list(const format::TrustList& list, std::size_t signatures) {
  say(fmt::format("trust list  sequence {}, root version {}, {} signature{}", list.sequence,
                  list.root_version, signatures, signatures == 1 ? "" : "s"));
  for (const format::TrustedKey& key : list.keys.view()) {
    say(fmt::format("  {:<11} {:<16} {} {}", format::role_words[static_cast<std::size_t>(key.role)],
                    key.person.view(), crypto::hex(key.key),
                    format::key_state_words[static_cast<std::size_t>(key.state)]));
  }
}

} // namespace cardseal::tool
