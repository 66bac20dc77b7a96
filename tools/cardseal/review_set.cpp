#include "commands.h"
#include "common.h"

#include <map>

#include "card/evidence.h"
#include "crypto/sha256.h"
#include "given.h"
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

} // namespace

Ran run_review_set(const ReviewOptions& options) {
  TRY_VOID(check_set_options(options));
  TRY(packages, read_whole_packages(options.packages));
  TRY(images, digests_of(options.images));
  TRY(numbers, Register::open(io::real_system(), options.file, std::nullopt));
  TRY(cards, cards_of_lot(numbers, options.work_order, options.file));
  for (page::CardOfSet& card : cards) {
    if (const auto image = images.find(card.row.card); image != images.end()) {
      card.image = image->second;
    }
  }
  TRY(head, numbers.head());
  std::vector<std::string> sources{source_of(options.file, head)};
  for (const package::Package& package : packages) {
    sources.push_back(source_of(package));
  }
  const std::string html =
      page::card_set_page({options.work_order, cards, pointers_to(packages), sources});
  TRY_VOID(
      io::write_file(io::real_system(), options.output, bytes_of(html), if_exists(options.force)));
  return 0;
}

} // namespace cardseal::tool
