#include "commands.h"
#include "common.h"

#include <map>

#include <fmt/format.h>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "package/whole.h"
#include "page/lot_pages.h"

namespace cardseal::tool {
namespace {

using registry::Register;

Try<void> check_set_options(const ReviewOptions& o) {
  const bool other = o.label || !o.labels.empty() || !o.stock.empty() || !o.pitch.empty() ||
                     !o.corner.empty() || o.job || !o.units.empty() || !o.model.empty() ||
                     !o.previous.empty() || !o.withdrawals.empty();
  if (other) {
    return Unexpected(usage_error("a page of cards is made of a register alone",
                                  "options for packages or cards",
                                  "--work-order with --package and --image"));
  }
  return {};
}

Try<format::Digest> digest_of(const io::ReadFile& file) {
  crypto::Sha256 sha;
  io::Bytes piece(std::size_t{1} << 20);
  for (std::uint64_t at = 0; at < file.size(); at += piece.size()) {
    const auto size =
        static_cast<std::size_t>(std::min<std::uint64_t>(piece.size(), file.size() - at));
    TRY_VOID(file.read_at(at, ByteSpan(piece).first(size)));
    sha.update(ByteView(piece).first(size));
  }
  return sha.finish();
}

using Images = std::map<format::CardId, format::Digest>;

Try<Images> digests_of(const std::vector<std::string>& files) {
  Images out;
  for (const std::string& name : files) {
    TRY(file, io::ReadFile::open(io::real_system(), name));
    fat32::FileSource source(file);
    TRY(card, card::read_card_id(source, name));
    TRY(digest, digest_of(file));
    out[card] = digest;
  }
  return out;
}

Try<std::vector<package::Package>> whole_packages(const std::vector<std::string>& files) {
  std::vector<package::Package> packages;
  for (const std::string& file : files) {
    TRY(package, package::read(io::real_system(), file));
    TRY_VOID(package::check_whole(package));
    packages.push_back(std::move(package));
  }
  return packages;
}

Error no_cards(const ReviewOptions& options) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "work-order-unknown";
  error.what = "this register made no card for the work order";
  error.place.file = options.file;
  error.found = options.work_order;
  error.hint = "look at its spelling: cardseal serial list";
  return error;
}

Try<std::vector<page::CardOfSet>> cards_of(Register& numbers, const ReviewOptions& options,
                                           const Images& images) {
  std::vector<page::CardOfSet> cards;
  TRY_VOID(numbers.each_allotment([&](const registry::AllotmentRow& row) {
    if (row.work_order == options.work_order) {
      const auto image = images.find(row.card);
      cards.push_back(
          {row, {}, image == images.end() ? std::optional<format::Digest>() : image->second});
    }
  }));
  for (page::CardOfSet& card : cards) {
    TRY(fates, numbers.fates_of(card.row.card));
    card.fates = std::move(fates);
  }
  if (cards.empty()) {
    return Unexpected(no_cards(options));
  }
  return cards;
}

} // namespace

Ran run_review_set(const ReviewOptions& options) {
  TRY_VOID(check_set_options(options));
  TRY(packages, whole_packages(options.packages));
  TRY(images, digests_of(options.images));
  TRY(numbers, Register::open(io::real_system(), options.file, std::nullopt));
  TRY(cards, cards_of(numbers, options, images));
  TRY(head, numbers.head());
  std::vector<const package::Package*> given;
  std::vector<std::string> sources{fmt::format("register {}, {} entries, the last {}", options.file,
                                               head.entries, crypto::spell_digest(head.digest))};
  for (const package::Package& package : packages) {
    given.push_back(&package);
    sources.push_back(
        fmt::format("package {}, {}", package.file, crypto::spell_digest(package.manifest_digest)));
  }
  const std::string html = page::card_set_page({options.work_order, cards, given, sources});
  TRY_VOID(
      io::write_file(io::real_system(), options.output, bytes_of(html), if_exists(options.force)));
  return 0;
}

} // namespace cardseal::tool
