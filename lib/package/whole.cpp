#include "package/whole.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/chain.h"
#include "package/container_file.h"
#include "seal/sealed.h"

namespace cardseal::package {
namespace {

Error damaged(const Package& package, Fault fault, std::string part) {
  Error error = error_from(refuse(fault), package.file);
  error.kind = ErrorKind::bad_data;
  error.place.item = std::move(part);
  return error;
}

Try<void> check_digest(const Package& package, ByteView content, const format::Digest& expected,
                       std::string part) {
  const crypto::Digest found = crypto::sha256(content);
  if (found == expected) {
    return {};
  }
  Error error = damaged(package, Fault::container_manifest, std::move(part));
  error.found = crypto::spell_digest(found);
  error.expected = crypto::spell_digest(expected);
  return Unexpected(std::move(error));
}

Try<void> check_chain(const Package& package) {
  const io::Bytes chain = make_chain(package.image());
  const ByteView sealed = package.part(package.layout.chain);
  const ByteView head = ByteView(chain).first(package.manifest.chain_head.size());
  if (std::ranges::equal(chain, sealed) && std::ranges::equal(head, package.manifest.chain_head)) {
    return {};
  }
  return Unexpected(damaged(package, Fault::container_manifest, "chain"));
}

Try<void> check_documents(const Package& package) {
  for (std::uint16_t i = 0; i < package.layout.documents.count; ++i) {
    const format::SealedFile& file = package.manifest.files.items[i];
    Try<void> same = check_digest(package, package.part(package.layout.documents.items[i]),
                                  file.digest, fmt::format("doc/{}", file.name.view()));
    if (!same) {
      return same;
    }
  }
  return {};
}

Try<void> check_signoffs(const Package& package) {
  for (std::size_t i = 0; i < package.signoffs.size(); ++i) {
    const SignoffEntry& entry = package.signoffs[i];
    const std::string part = fmt::format("signoff/{:02}", i + 1);
    if (entry.signoff.manifest != package.manifest_digest) {
      return Unexpected(damaged(package, Fault::signoff_manifest, part));
    }
    const io::Bytes covered = seal::signed_bytes(format::Signoff::kind, entry.text);
    if (!crypto::verify(entry.signoff.key, covered, entry.signature)) {
      return Unexpected(damaged(package, Fault::signature_bad, part));
    }
  }
  return {};
}

} // namespace

Try<void> check_whole(const Package& package) {
  const format::Manifest& manifest = package.manifest;
  Try<void> good = check_digest(package, package.image(), manifest.image_digest, "image");
  if (good) {
    good = check_chain(package);
  }
  if (good) {
    good =
        check_digest(package, package.part(package.layout.facts), manifest.facts_digest, "facts");
  }
  if (good) {
    good = check_documents(package);
  }
  if (good) {
    good = check_signoffs(package);
  }
  return good ? same_when_written_again(package.bytes, package.file) : good;
}

} // namespace cardseal::package
