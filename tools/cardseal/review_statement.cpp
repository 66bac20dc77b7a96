#include "verify_statement.h"

#include <algorithm>
#include <optional>
#include <span>

#include "crypto/sha256.h"
#include "given.h"
#include "page/statement_pages.h"
#include "seal/statement.h"

namespace cardseal::tool {
namespace {

Try<void> check_statement_options(const ReviewOptions& o) {
  const bool other = o.label || !o.labels.empty() || !o.stock.empty() || !o.pitch.empty() ||
                     !o.corner.empty() || o.job || !o.units.empty() || !o.model.empty() ||
                     !o.previous.empty() || !o.images.empty();
  if (other) {
    return Unexpected(usage_error("a page of what quality signed is made of its text",
                                  "options for packages or cards",
                                  "--root with --trust, --package and --register"));
  }
  if (!o.withdrawals.empty() && o.trust.empty()) {
    return Unexpected(usage_error("a withdrawal counts beside a trust list", "no --trust",
                                  "--root FILE and --trust FILE"));
  }
  if (o.root.empty() != o.trust.empty()) {
    return Unexpected(usage_error("a signature is checked against a root and a trust list",
                                  o.root.empty() ? "--trust alone" : "--root alone",
                                  "--root FILE and --trust FILE, or neither"));
  }
  return {};
}

bool is_named(const format::FirstArticle& text, const format::Digest& manifest) {
  return text.manifest == manifest;
}
bool is_named(const format::Concession&, const format::Digest&) {
  return true; // it names none
}
bool is_named(const format::Close& text, const format::Digest& manifest) {
  const auto named = text.manifests.view();
  return std::find(named.begin(), named.end(), manifest) != named.end();
}

// A package of something else would tell wrong names and digests.
template <class T>
Try<void> check_named(const T& text, const std::vector<package::Package>& packages) {
  for (const package::Package& package : packages) {
    if (!is_named(text, package.manifest_digest)) {
      Error error = usage_error("this text is not about that package", package.file,
                                "a package that the text names");
      error.kind = ErrorKind::config;
      error.code = "package-other";
      return Unexpected(std::move(error));
    }
  }
  return {};
}

using Products = std::vector<format::Id>;

// The products that a statement is about; empty when any of them is not known, so that only a key
// for every product counts.
class About {
public:
  void add(std::optional<std::string_view> product) {
    format::Id id;
    all_known_ = all_known_ && product && id.set(*product);
    products_.push_back(id);
  }
  Products products() const { return all_known_ ? products_ : Products(); }

private:
  Products products_;
  bool all_known_ = true;
};

Products products_of(const format::FirstArticle& text, const std::vector<package::Package>&,
                     const page::StatementRegister*) {
  return {text.product};
}

std::span<const page::CardOfSet> cards_in(const page::StatementRegister* registered) {
  return registered == nullptr ? std::span<const page::CardOfSet>() : registered->cards;
}

// A concession names cards: the register knows their products.
Products products_of(const format::Concession& text, const std::vector<package::Package>&,
                     const page::StatementRegister* registered) {
  About about;
  for (const format::UnitRange& range : text.units.view()) {
    bool known = false;
    for (const page::CardOfSet& card : cards_in(registered)) {
      if (card.row.card == range.card) {
        about.add(card.row.product);
        known = true;
      }
    }
    if (!known) {
      about.add({});
    }
  }
  return about.products();
}

// A closure names packages: they are given, or the register knows their products.
Products products_of(const format::Close& text, const std::vector<package::Package>& packages,
                     const page::StatementRegister* registered) {
  About about;
  for (const format::Digest& manifest : text.manifests.view()) {
    std::optional<std::string_view> product;
    for (const package::Package& package : packages) {
      if (package.manifest_digest == manifest) {
        product = package.manifest.product.view();
      }
    }
    for (const page::CardOfSet& card : cards_in(registered)) {
      if (card.row.manifest == manifest) {
        product = card.row.product;
      }
    }
    about.add(product);
  }
  return about.products();
}

template <class T>
Try<page::StatementRegister> read_register(const ReviewOptions& options, const T& text,
                                           const io::Bytes& bytes,
                                           std::vector<std::string>& sources) {
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, text.owner));
  const std::string work_order(text.work_order.view());
  TRY(cards, cards_of_lot(numbers, work_order, options.registered));
  TRY(statements, numbers.statements_of(work_order));
  TRY(head, numbers.head());
  sources.push_back(source_of(options.registered, head));
  const bool keeps =
      std::any_of(statements.begin(), statements.end(),
                  [&](const registry::Statement& statement) { return statement.text == bytes; });
  return page::StatementRegister{std::move(cards), keeps};
}

template <class T>
Ran write_page(const ReviewOptions& options, const T& text, const page::StatementInput& input) {
  const std::string html = page::statement_page(text, input);
  TRY_VOID(
      io::write_file(io::real_system(), options.output, bytes_of(html), if_exists(options.force)));
  return 0;
}

// One whose signature does not count gets no page, since it would be believed.
template <class T>
Ran write_judged(const ReviewOptions& options, const seal::SignedText& file,
                 const Products& products, page::StatementInput input) {
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  const ByteView signature =
      file.signatures.size() == 1 ? ByteView(file.signatures[0]) : ByteView();
  TRY(judged, seal::read_statement<T>(file.text, signature, owner.root, owner.trust, products,
                                      options.file));
  TRY(key, seal::signer_of(T::kind, file.text, signature, owner.trust, options.file));
  const page::StatementSigner signer{key, owner.trust.list, owner.root.root.version};
  input.signer = &signer;
  return write_page(options, judged, input);
}

template <class T>
Ran review_text(const ReviewOptions& options, const seal::SignedText& file, T text) {
  TRY_VOID(decode_statement(file.text, options.file, text));
  TRY(packages, read_whole_packages(options.packages));
  TRY_VOID(check_named(text, packages));
  const format::Digest digest = crypto::sha256(file.text);
  std::vector<std::string> sources{
      fmt::format("text {}, {}", options.file, crypto::spell_digest(digest))};
  std::optional<page::StatementRegister> registered;
  if (!options.registered.empty()) {
    TRY(found, read_register(options, text, file.text, sources));
    registered = std::move(found);
  }
  for (const package::Package& package : packages) {
    sources.push_back(source_of(package));
  }
  const page::StatementRegister* lot = registered ? &*registered : nullptr;
  const std::vector<const package::Package*> given = pointers_to(packages);
  const page::StatementInput input{digest, !file.signatures.empty(), nullptr, lot, given, sources};
  return options.root.empty()
             ? write_page(options, text, input)
             : write_judged<T>(options, file, products_of(text, packages, lot), input);
}

} // namespace

Ran review_statement(const ReviewOptions& options) {
  TRY_VOID(check_statement_options(options));
  TRY(file, seal::read_signed(io::real_system(), options.file, format::Close::limit));
  return with_kind(file.text,
                   [&](auto text) { return review_text(options, file, std::move(text)); });
}

} // namespace cardseal::tool
