#include "verify_statement.h"

#include <type_traits>

#include <fmt/format.h>

#include "format/codec.h"
#include "lot_words.h"
#include "seal/statement.h"
#include "view/lot_json.h"

namespace cardseal::tool {
namespace {

template <class T>
Ran verified(const VerifyOptions& options, const seal::SignedText& file, T text) {
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  std::vector<format::Id> products;
  if constexpr (std::is_same_v<T, format::FirstArticle>) {
    if (format::decode(file.text, text).ok()) {
      products.push_back(text.product);
    }
  }
  const ByteView signature =
      file.signatures.size() == 1 ? ByteView(file.signatures[0]) : ByteView();
  TRY(read, seal::read_statement<T>(file.text, signature, owner.root, owner.trust, products,
                                    options.file));
  say(options.json ? view::json_of(read)
                   : fmt::format("good  {}  {}", options.file, words_of(read)));
  return 0;
}

} // namespace

Ran verify_statement(const VerifyOptions& options) {
  if (options.trust.empty()) {
    return Unexpected(usage_error("what quality signed is verified against a trust list",
                                  "no --trust", "--trust FILE"));
  }
  TRY(file, seal::read_signed(io::real_system(), options.file, format::Close::limit));
  return with_kind(file.text, [&](auto text) { return verified(options, file, std::move(text)); });
}

Ran show_statement_json(const ShowOptions& options) {
  TRY(file, seal::read_signed(io::real_system(), options.file, format::Close::limit));
  return with_kind(file.text, [&](auto value) -> Ran {
    TRY_VOID(decode_statement(file.text, options.file, value));
    say(view::json_of(value));
    return 0;
  });
}

} // namespace cardseal::tool
