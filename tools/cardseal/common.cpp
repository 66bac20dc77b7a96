#include "common.h"

#include <cstdio>

#include <fmt/format.h>

#include "io/clock.h"
#include "seal/withdrawal.h"

namespace cardseal::tool {

namespace {

// Without exceptions: a stream that takes no more keeps its error, which main looks for at the end.
void put_line(std::FILE* stream, std::string_view line) {
  std::fwrite(line.data(), 1, line.size(), stream);
  std::fputc('\n', stream);
}

} // namespace

void say(std::string_view line) {
  put_line(stdout, line);
}
void note(std::string_view line) {
  put_line(stderr, line);
}

Error usage_error(std::string what, std::string found, std::string expected, std::string hint) {
  return error_of(ErrorKind::usage, "usage", std::move(what), std::move(found), std::move(expected),
                  std::move(hint));
}

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts(1);
  for (const char c : text) {
    if (c == at) {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  return parts;
}

Try<std::uint64_t> to_uint(const std::string& text, const char* what, std::uint64_t most) {
  std::uint64_t value = 0;
  if (!parse_uint(text, value) || value > most) {
    return Unexpected(usage_error(fmt::format("{} is not a number in range", what), text,
                                  fmt::format("0 to {}", most)));
  }
  return value;
}

Try<Utc> time_or_now(const std::string& text) {
  Utc time;
  if (text.empty()) {
    return io::now();
  }
  if (!parse_utc(text, time)) {
    return Unexpected(usage_error("this is no time", text, "like 2026-03-31T12:00:00Z"));
  }
  return time;
}

std::string words(const Utc& time) {
  char out[utc_length];
  return {out, spell_utc(time, out)};
}

std::string yes_no(bool value) {
  return value ? "yes" : "no";
}

Try<format::Id> to_id(const std::string& text, const char* what) {
  format::Id id;
  const bool letters =
      text.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-") == std::string::npos;
  if (text.empty() || !letters || text[0] < 'a' || !id.set(text)) {
    return Unexpected(usage_error(fmt::format("{} is not an id", what), text,
                                  "1 to 16 lower-case letters, digits and '-', a letter first"));
  }
  return id;
}

Try<std::size_t> to_word(const std::string& text, std::span<const std::string_view> words,
                         const char* what) {
  std::string all;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == text) {
      return i;
    }
    all += (i == 0 ? "" : ", ") + std::string(words[i]);
  }
  return Unexpected(usage_error(fmt::format("{} is not known", what), text, "one of " + all));
}

Try<crypto::SigningKey> open_key(const KeySource& source) {
  TRY(passphrase, io::read_secret(io::real_system(), source.passphrase,
                                  fmt::format("passphrase of {}", source.file), false));
  return crypto::read_key_file(io::real_system(), source.file, passphrase.view());
}

Try<Owner> read_owner(const std::string& root, const std::string& trust,
                      const std::vector<std::string>& withdrawals) {
  TRY(owner_root, seal::read_root(io::real_system(), root));
  TRY(owner_trust, seal::read_trust(io::real_system(), trust, owner_root));
  for (const std::string& file : withdrawals) {
    TRY(withdrawal, seal::read_withdrawal(io::real_system(), file, owner_root, owner_trust));
    TRY_VOID(seal::stop_by(owner_trust, std::move(withdrawal)));
  }
  return Owner{std::move(owner_root), std::move(owner_trust)};
}

io::IfExists if_exists(bool force) {
  return force ? io::IfExists::replace : io::IfExists::refuse;
}

} // namespace cardseal::tool
