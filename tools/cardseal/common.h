// Small things that several subcommands need.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "commands.h"
#include "crypto/key_file.h"
#include "format/fields.h"
#include "seal/owner.h"

namespace cardseal::tool {

void say(std::string_view line);  // a line of the result, stdout
void note(std::string_view line); // a line for the person, stderr

Error usage_error(std::string what, std::string found, std::string expected, std::string hint = {});

// "a:b:c" into its parts.
std::vector<std::string> split(const std::string& text, char at);

Try<std::uint64_t> to_uint(const std::string& text, const char* what, std::uint64_t most);
Try<Utc> time_or_now(const std::string& text);
std::string words(const Utc& time);
std::string yes_no(bool value);

// An id (lower-case letters, digits, '-', at most 16 characters) given on the command line.
Try<format::Id> to_id(const std::string& text, const char* what);
template <std::size_t N>
Try<format::Text<N>> to_text(const std::string& text, const char* what) {
  format::Text<N> out;
  if (text.empty() || !out.set(text)) {
    return Unexpected(usage_error(std::string(what) + " can't be sealed", text,
                                  "1 to " + std::to_string(N) + " bytes"));
  }
  return out;
}

// Index into `words`.
Try<std::size_t> to_word(const std::string& text, std::span<const std::string_view> words,
                         const char* what);

Try<crypto::SigningKey> open_key(const KeySource& source);

struct Owner {
  seal::OwnerRoot root;
  seal::OwnerTrust trust;
};
// Withdrawals are judged by the list in their order, and take from it what they stop.
Try<Owner> read_owner(const std::string& root, const std::string& trust,
                      const std::vector<std::string>& withdrawals = {});

io::IfExists if_exists(bool force);

} // namespace cardseal::tool

// Hands an error on: `TRY(value, expression)` declares `value` as the expression's value.
#define CARDSEAL_CONCAT_(a, b) a##b
#define CARDSEAL_CONCAT(a, b) CARDSEAL_CONCAT_(a, b)
#define CARDSEAL_TRY_(name, value, expression)                                                     \
  auto name = (expression);                                                                        \
  if (!name) {                                                                                     \
    return Unexpected(std::move(name).error());                                                    \
  }                                                                                                \
  auto& value = *name
#define TRY(value, expression) CARDSEAL_TRY_(CARDSEAL_CONCAT(try_, __LINE__), value, expression)
#define TRY_VOID(expression)                                                                       \
  if (auto tried = (expression); !tried) {                                                         \
    return Unexpected(std::move(tried).error());                                                   \
  }
