// What goes into an archive: only what is good by the root and trust list of the day, which go
// along.
#include "commands_archive.h"
#include "common.h"

#include <fmt/format.h>

#include "archive/archive.h"
#include "card/verify.h"
#include "crypto/sha256.h"
#include "file_kind.h"
#include "format/codec.h"
#include "lot/order.h"
#include "lot_words.h"
#include "package/package.h"
#include "release.h"
#include "runlog/log_file.h"
#include "seal/statement.h"
#include "words.h"

namespace cardseal::tool {
namespace {

using archive::Kind;
using archive::Source;

struct Kept {
  Kind kind = Kind::package;
  std::string title;
  std::vector<Source> sources;
};

Source source_of(const io::Path& path, const io::Bytes& bytes) {
  return {path.filename().string(), bytes, std::nullopt};
}

void add_signed(const io::Path& path, const seal::SignedText& text, std::vector<Source>& out) {
  out.push_back(source_of(path, text.text));
  for (std::size_t i = 0; i < text.signatures.size(); ++i) {
    const crypto::Signature& signature = text.signatures[i];
    out.push_back(
        source_of(seal::signature_path(path, i), io::Bytes(signature.begin(), signature.end())));
  }
}

// The trust list of the day, the root and every root before it: what judges the rest a year on.
void add_trust(const ArchiveAddOptions& options, const Owner& owner, std::vector<Source>& out) {
  add_signed(options.trust, owner.trust.file, out);
  add_signed(options.root, owner.root.file, out);
  for (std::size_t i = 0; i < owner.root.before.size(); ++i) {
    add_signed(seal::earlier_root(options.root, static_cast<std::uint32_t>(i + 1)),
               owner.root.before[i], out);
  }
}

Try<Kept> keep_package(const std::string& file, const ArchiveAddOptions& options,
                       const Owner& owner) {
  TRY(package, package::read(io::real_system(), file));
  const package::Judgement judged = package::judge(package, owner.root, owner.trust.list);
  if (!judged.outcome.ok()) {
    return Unexpected(package::refusal(judged.outcome, file));
  }
  Kept kept{Kind::package, release_name(package.manifest), {source_of(file, package.bytes)}};
  add_trust(options, owner, kept.sources);
  return kept;
}

Error unsound(const std::string& file, const card::CardReport& report) {
  if (!report.problems.empty()) {
    return report.problems.front();
  }
  return at(refused("card-unsound", "this card is not as it was made", "", "",
                    "cardseal card verify says what is wrong with it"),
            file);
}

// A card that came back has its log in it, so that either is kept.
Try<Kept> keep_card(const std::string& file, const ArchiveAddOptions& options, const Owner& owner) {
  TRY(opened, io::ReadFile::open(io::real_system(), file));
  fat32::FileSource source(opened);
  TRY(report, card::verify_card(source, owner.root, card::LogState::returned));
  if (!report.sound() || !report.index) {
    return Unexpected(unsound(file, report));
  }
  Kept kept{Kind::card, fmt::format("card {}", crypto::hex(report.index->card_id)), {}};
  kept.sources.push_back({io::Path(file).filename().string(), {}, io::Path(file)});
  add_trust(options, owner, kept.sources);
  return kept;
}

template <class T>
Try<Kept> keep_statement(const std::string& file, const seal::SignedText& text, const Owner& owner,
                         const char* what) {
  const ByteView signature =
      text.signatures.size() == 1 ? ByteView(text.signatures[0]) : ByteView();
  TRY(read, seal::read_statement<T>(text.text, signature, owner.root, owner.trust, {}, file));
  Kept kept{Kind::statement, fmt::format("{} {}", what, read.work_order.view()), {}};
  add_signed(file, text, kept.sources);
  return kept;
}

Try<Kept> keep_statement(const std::string& file, const ArchiveAddOptions& options,
                         const Owner& owner) {
  TRY(text, seal::read_signed(io::real_system(), file, format::Close::limit));
  const std::string_view head = text_of(ByteView(text.text));
  Try<Kept> kept =
      head.starts_with("cardseal-close ")
          ? keep_statement<format::Close>(file, text, owner, "close")
      : head.starts_with("cardseal-concession ")
          ? keep_statement<format::Concession>(file, text, owner, "concession of")
          : keep_statement<format::FirstArticle>(file, text, owner, "first article of");
  if (kept) {
    add_trust(options, owner, kept->sources);
  }
  return kept;
}

Try<Kept> keep_list(const std::string& file, const ArchiveAddOptions& options) {
  TRY(owner, read_owner(options.root, file));
  Kept kept{Kind::trust, fmt::format("trust list {}", owner.trust.list.sequence), {}};
  ArchiveAddOptions of_file = options;
  of_file.trust = file;
  add_trust(of_file, owner, kept.sources);
  return kept;
}

Try<Kept> keep_log(const std::string& file) {
  TRY(log, runlog::read_log(io::real_system(), file));
  TRY(bytes, io::read_file(io::real_system(), file, 0x7FFF'FFFF));
  return Kept{
      Kind::log, fmt::format("log of card {}", crypto::hex(log.card)), {source_of(file, bytes)}};
}

Try<Kept> keep_order(const std::string& file) {
  const xml::All<lot::Order> order = lot::read_order(io::real_system(), file);
  if (!order) {
    return Unexpected(report(order.error(), false));
  }
  return Kept{Kind::order,
              fmt::format("order {}, revision {}", order->work_order, order->revision),
              {source_of(file, order->bytes)}};
}

// What is none of the kinds that are told by their first bytes.
Try<Kept> keep_other(const std::string& file) {
  TRY(opened, io::ReadFile::open(io::real_system(), file));
  std::array<std::uint8_t, 5> first{};
  if (opened.size() >= first.size()) {
    TRY_VOID(opened.read_at(0, first));
  }
  return text_of(ByteView(first)) == "<?xml" ? keep_order(file) : keep_log(file);
}

Try<Kept> keep_file(const std::string& file, const ArchiveAddOptions& options, const Owner& owner) {
  const Try<FileKind> kind = kind_of(file);
  if (!kind) {
    return kind.error().code == "file-kind" ? keep_other(file) : Unexpected(kind.error());
  }
  switch (*kind) {
  case FileKind::package:
    return keep_package(file, options, owner);
  case FileKind::card:
    return keep_card(file, options, owner);
  case FileKind::statement:
    return keep_statement(file, options, owner);
  case FileKind::trust:
    return keep_list(file, options);
  case FileKind::root:
  case FileKind::withdrawal:
    break;
  }
  return Unexpected(
      usage_error("roots go along with what they judge, and withdrawals lie on the cards", file,
                  "packages, cards, logs, trust lists, orders, and what quality signed"));
}

} // namespace

Ran run_archive_add(const ArchiveAddOptions& options) {
  TRY(owner, read_owner(options.root, options.trust));
  TRY(kept_in, archive::Archive::open(io::real_system(), options.archive));
  std::vector<Kept> all;
  for (const std::string& file : options.files) { // all are good before one is kept
    TRY(kept, keep_file(file, options, owner));
    all.push_back(std::move(kept));
  }
  for (const Kept& kept : all) {
    TRY(added, kept_in.add(kept.kind, kept.title, kept.sources));
    say(fmt::format("{}  {}  {}{}", crypto::hex(added.item.id()).substr(0, 16),
                    archive::kind_words[static_cast<std::size_t>(kept.kind)], escaped(kept.title),
                    added.fresh ? "" : "  (was there already)"));
  }
  return 0;
}

} // namespace cardseal::tool
