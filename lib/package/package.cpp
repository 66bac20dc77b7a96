#include "package/package.h"

#include <algorithm>
#include <memory>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"
#include "image/image_builder.h"
#include "package/chain.h"
#include "package/container_file.h"
#include "package/memory_source.h"

namespace cardseal::package {
namespace {

Error too_much(const char* what, std::uint64_t found, std::uint64_t most, const char* hint) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "package-limit";
  error.what = fmt::format("a package can't hold this many {}", what);
  error.found = fmt::format("{}", found);
  error.expected = fmt::format("at most {}", most);
  error.hint = hint;
  return error;
}

Try<void> fill_segments(const image::SparseImage& image, format::Manifest& manifest) {
  manifest.segments = {};
  for (const image::Segment& segment : image.segments()) {
    if (segment.end() > std::uint64_t{0xFFFF'FFFF} + 1) {
      return Unexpected(too_much("address bits", 33, 32, "the image lies above 4 GiB"));
    }
    const format::Segment sealed{static_cast<std::uint32_t>(segment.address),
                                 static_cast<std::uint32_t>(segment.length)};
    if (!manifest.segments.add(sealed)) {
      return Unexpected(too_much("segments", image.segments().size(), manifest.segments.capacity(),
                                 "fill small gaps in the firmware file"));
    }
  }
  if (image.empty() || image.size() > format::max_image) {
    return Unexpected(too_much("image bytes", image.size(), format::max_image,
                               "an image has 1 to 2,147,483,647 bytes"));
  }
  manifest.image_size = static_cast<std::uint32_t>(image.size());
  manifest.image_digest = crypto::sha256(image.image_bytes());
  return {};
}

Try<void> fill_files(const std::vector<Document>& documents, format::Manifest& manifest) {
  manifest.files = {};
  for (const Document& document : documents) {
    format::SealedFile file;
    if (!format::is_document_name(document.name) || !file.name.set(document.name)) {
      Error error;
      error.kind = ErrorKind::bad_data;
      error.code = "document-name";
      error.what = "a document's name can't be sealed";
      error.found = document.name;
      error.expected = "1 to 24 letters, digits, '.', '_' or '-', a letter or digit first";
      error.hint = "give the document another name in the release";
      return Unexpected(std::move(error));
    }
    file.size = static_cast<std::uint32_t>(document.content.size());
    file.digest = crypto::sha256(document.content);
    if (document.content.empty() || !manifest.files.add(file)) {
      return Unexpected(too_much("documents (none of them empty)", documents.size(),
                                 manifest.files.capacity(), "leave some out"));
    }
  }
  return {};
}

Try<io::Bytes> assemble(const io::Bytes& manifest, const std::vector<SignoffEntry>& signoffs,
                        ByteView chain, ByteView image, ByteView facts,
                        const std::vector<Document>& documents) {
  std::vector<Entry> entries{{"manifest", manifest}};
  char name[16];
  for (std::size_t i = 0; i < signoffs.size(); ++i) {
    entries.push_back({std::string(format::signoff_name(i, false, name)), signoffs[i].text});
    entries.push_back({std::string(format::signoff_name(i, true, name)), signoffs[i].signature});
  }
  entries.push_back({"chain", chain});
  entries.push_back({"image", image});
  entries.push_back({"facts", facts});
  for (const Document& document : documents) {
    entries.push_back({"doc/" + document.name, document.content});
  }
  return write_container(entries);
}

template <class T>
Try<void> decode_part(ByteView text, const std::string& file, const char* part, T& value) {
  const Outcome outcome = format::decode(text, value);
  if (!outcome.ok()) {
    Error error = error_from(outcome, file);
    error.kind = ErrorKind::bad_data;
    error.place.item = part;
    return Unexpected(std::move(error));
  }
  return {};
}

Try<SignoffEntry> open_signoff(const Package& package, const format::SignoffExtents& extents) {
  SignoffEntry entry;
  const ByteView text = package.part(extents.text);
  const ByteView signature = package.part(extents.signature);
  if (signature.size() != entry.signature.size()) {
    return Unexpected(error_from(refuse(Fault::signature_form), package.file));
  }
  Try<void> decoded = decode_part(text, package.file, "signoff", entry.signoff);
  if (!decoded) {
    return Unexpected(std::move(decoded).error());
  }
  entry.text.assign(text.begin(), text.end());
  std::copy(signature.begin(), signature.end(), entry.signature.begin());
  entry.digest = crypto::sha256(text);
  return entry;
}

std::vector<Document> documents_of(const Package& package) {
  std::vector<Document> documents;
  for (std::uint16_t i = 0; i < package.layout.documents.count; ++i) {
    const ByteView content = package.part(package.layout.documents.items[i]);
    documents.push_back({std::string(package.manifest.files.items[i].name.view()),
                         {content.begin(), content.end()}});
  }
  return documents;
}

Outcome judge_image(const trust::CryptoTable& crypto, const format::Source& source,
                    const trust::PackageVerdict& verdict, const format::Manifest& manifest) {
  std::vector<std::uint8_t> block(format::chain_block);
  crypto::Sha256 whole;
  trust::ImageStream stream(crypto, source, verdict.layout, manifest.chain_head);
  while (!stream.at_end()) {
    std::size_t size = 0;
    const Outcome outcome = stream.next(block, size);
    if (!outcome.ok()) {
      return outcome;
    }
    whole.update(ByteView(block).first(size));
  }
  return whole.finish() == manifest.image_digest
             ? done
             : refuse(Fault::container_manifest, verdict.layout.image.offset);
}

// People decide by the facts, so these must speak of this package; a station never reads them.
Outcome judge_facts(const format::Facts& facts, const format::Manifest& manifest,
                    std::uint32_t offset) {
  const bool same = facts.owner == manifest.owner && facts.product == manifest.product &&
                    facts.release == manifest.release;
  return same ? done : refuse(Fault::container_manifest, offset);
}

Outcome judge_facts(ByteView text, const format::Manifest& manifest, std::uint32_t offset) {
  const auto facts = std::make_unique<format::Facts>();
  const Outcome outcome = format::decode(text, *facts);
  return outcome.ok() ? judge_facts(*facts, manifest, offset) : outcome;
}

// `opened`: what the facts in these bytes say, where they were read already.
Judgement judge_whole(ByteView bytes, const format::Facts* opened, const seal::OwnerRoot& root,
                      const format::TrustList& list) {
  Judgement judgement;
  crypto::BotanContext botan;
  const trust::CryptoTable crypto = crypto::botan_table(botan);
  MemorySource memory(bytes);
  const format::Source source = memory.source();
  io::Bytes text(format::Manifest::limit);
  format::Manifest manifest;
  judgement.outcome =
      trust::judge_package(crypto, root.view(), list, source, text, manifest, judgement.verdict);
  if (judgement.outcome.ok()) {
    judgement.outcome = judge_image(crypto, source, judgement.verdict, manifest);
  }
  if (judgement.outcome.ok()) {
    const format::Extent& facts = judgement.verdict.layout.facts;
    judgement.outcome = opened != nullptr ? judge_facts(*opened, manifest, facts.offset)
                                          : judge_facts(bytes.subspan(facts.offset, facts.size),
                                                        manifest, facts.offset);
  }
  if (judgement.outcome.ok()) {
    const Try<void> same = same_when_written_again(bytes, "");
    judgement.outcome = same ? done : refuse(Fault::container_header);
  }
  return judgement;
}

} // namespace

Try<io::Bytes> build(format::Manifest manifest, const format::Facts& facts,
                     const image::SparseImage& image, std::vector<Document> documents) {
  std::sort(documents.begin(), documents.end(),
            [](const Document& a, const Document& b) { return a.name < b.name; });
  Try<void> filled = fill_segments(image, manifest);
  if (filled) {
    filled = fill_files(documents, manifest);
  }
  if (!filled) {
    return Unexpected(std::move(filled).error());
  }
  Try<io::Bytes> facts_text = seal::spell(facts);
  if (!facts_text) {
    return Unexpected(std::move(facts_text).error());
  }
  const io::Bytes chain = make_chain(image.image_bytes());
  std::copy_n(chain.begin(), manifest.chain_head.size(), manifest.chain_head.begin());
  manifest.facts_size = static_cast<std::uint32_t>(facts_text->size());
  manifest.facts_digest = crypto::sha256(*facts_text);
  Try<io::Bytes> manifest_text = seal::spell(manifest);
  if (!manifest_text) {
    return Unexpected(std::move(manifest_text).error());
  }
  return assemble(*manifest_text, {}, chain, image.image_bytes(), *facts_text, documents);
}

Try<Package> open(io::Bytes bytes, std::string file) {
  Package package;
  package.bytes = std::move(bytes);
  package.file = std::move(file);
  MemorySource memory(package.bytes);
  const Outcome outcome = format::read_layout(memory.source(), package.layout);
  if (!outcome.ok()) {
    Error error = error_from(outcome, package.file);
    error.kind = ErrorKind::bad_data;
    error.place.item = fmt::format("offset {}", outcome.position);
    return Unexpected(std::move(error));
  }
  const ByteView text = package.part(package.layout.manifest);
  Try<void> decoded = decode_part(text, package.file, "manifest", package.manifest);
  if (decoded) {
    package.manifest_digest = crypto::sha256(text);
    decoded = decode_part(package.part(package.layout.facts), package.file, "facts", package.facts);
  }
  if (!decoded) {
    return Unexpected(std::move(decoded).error());
  }
  for (const format::SignoffExtents& extents : package.layout.signoffs.view()) {
    Try<SignoffEntry> signoff = open_signoff(package, extents);
    if (!signoff) {
      return Unexpected(std::move(signoff).error());
    }
    package.signoffs.push_back(std::move(*signoff));
  }
  return package;
}

Try<Package> read(io::System& system, const io::Path& path) {
  Try<io::Bytes> bytes = io::read_file(system, path, max_package);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  return open(std::move(*bytes), path.string());
}

Try<io::Bytes> with_signoff(const Package& package, ByteView text,
                            const crypto::Signature& signature) {
  std::vector<SignoffEntry> signoffs = package.signoffs;
  if (signoffs.size() == format::max_signoffs) {
    return Unexpected(too_much("sign-offs", signoffs.size() + 1, format::max_signoffs,
                               "the package has its sign-offs already"));
  }
  format::Signoff signoff;
  Try<void> decoded = decode_part(text, package.file, "signoff", signoff);
  if (!decoded) {
    return Unexpected(std::move(decoded).error());
  }
  if (!crypto::verify(signoff.key, seal::signed_bytes(format::Signoff::kind, text), signature)) {
    return Unexpected(error_from(refuse(Fault::signature_bad), package.file));
  }
  SignoffEntry added;
  added.text.assign(text.begin(), text.end());
  added.signature = signature;
  signoffs.push_back(std::move(added));
  const ByteView manifest = package.part(package.layout.manifest);
  return assemble({manifest.begin(), manifest.end()}, signoffs, package.part(package.layout.chain),
                  package.image(), package.part(package.layout.facts), documents_of(package));
}

Try<image::SparseImage> image_of(const Package& package) {
  image::ImageBuilder builder;
  const std::uint16_t file = builder.add_file(package.file);
  ByteView rest = package.image();
  for (const format::Segment& segment : package.manifest.segments.view()) {
    if (segment.length > rest.size()) {
      return Unexpected(error_from(refuse(Fault::manifest_segments), package.file));
    }
    builder.add(segment.address, rest.first(segment.length), file, 0);
    rest = rest.subspan(segment.length);
  }
  image::Notes notes;
  return builder.finish(notes);
}

Judgement judge(const Package& package, const seal::OwnerRoot& root,
                const format::TrustList& list) {
  return judge_whole(package.bytes, &package.facts, root, list);
}

Judgement judge_bytes(ByteView bytes, const seal::OwnerRoot& root, const format::TrustList& list) {
  return judge_whole(bytes, nullptr, root, list);
}

Judged::Judged(const Package& package, const trust::PackageVerdict& verdict)
    : package_(&package), verdict_(verdict), file_digest_(crypto::sha256(package.bytes)) {}

Try<Judged> Judged::of(const Package& package, const seal::OwnerRoot& root,
                       const format::TrustList& list) {
  const Judgement judged = judge(package, root, list);
  if (!judged.outcome.ok()) {
    return Unexpected(refusal(judged.outcome, package.file));
  }
  return Judged(package, judged.verdict);
}

Error refusal(const Outcome& outcome, std::string file) {
  Error error = error_from(outcome, std::move(file));
  if (outcome.fault == Fault::image_block) {
    error.hint = fault_text(Fault::container_manifest).advice;
  }
  return error;
}

} // namespace cardseal::package
