// A release package (`.crp`) at the desk: built from a manifest and contents, opened, judged, and
// given sign-offs. A sign-off never changes the manifest.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/bytes.h"
#include "crypto/ed25519.h"
#include "diag/error.h"
#include "format/facts.h"
#include "image/sparse_image.h"
#include "seal/owner.h"
#include "trust/package_rules.h"

namespace cardseal::package {

struct Document {
  std::string name; // see format::is_document_name
  io::Bytes content;
};

struct SignoffEntry {
  format::Signoff signoff;
  io::Bytes text;
  crypto::Signature signature{};
  format::Digest digest{}; // of the text
};

// Opened for reading: form checked, nothing verified. The views point into `bytes`.
struct Package {
  io::Bytes bytes;
  std::string file; // for messages
  format::PackageLayout layout;
  format::Manifest manifest;
  format::Digest manifest_digest{};
  format::Facts facts;
  std::vector<SignoffEntry> signoffs;

  ByteView part(const format::Extent& extent) const {
    return ByteView(bytes).subspan(extent.offset, extent.size);
  }
  ByteView image() const { return part(layout.image); }
};

inline constexpr std::uint64_t max_package = 0x7FFF'FFFF; // bytes

// Fills segments, image, chain head, facts and files of `manifest` from the contents, and seals.
// Documents are sorted by name.
Try<io::Bytes> build(format::Manifest manifest, const format::Facts& facts,
                     const image::SparseImage& image, std::vector<Document> documents);

Try<Package> open(io::Bytes bytes, std::string file);
Try<Package> read(io::System& system, const io::Path& path);

// The same package with one more sign-off at the end. `text` must decode and the signature be over
// it by the key it names.
Try<io::Bytes> with_signoff(const Package& package, ByteView text,
                            const crypto::Signature& signature);

// The image as segments again.
Try<image::SparseImage> image_of(const Package& package);

struct Judgement {
  Outcome outcome; // of the first failure
  trust::PackageVerdict verdict;
};

// Everything a station checks of a package; then every block of the image and its whole digest, and
// that the facts are of this owner, product and release.
Judgement judge(const Package& package, const seal::OwnerRoot& root, const format::TrustList& list);
Judgement judge_bytes(ByteView bytes, const seal::OwnerRoot& root, const format::TrustList& list);
// A judgement's refusal for people at a desk, where a changed image is in a file and not on a card.
Error refusal(const Outcome& outcome, std::string file);

// A package that was judged and found good. What builds on one takes this: it can't be one that
// nobody looked at, and is looked at once for all that is built in one go. Refers to the package.
class Judged {
public:
  static Try<Judged> of(const Package& package, const seal::OwnerRoot& root,
                        const format::TrustList& list);
  const Package& package() const { return *package_; }
  const trust::PackageVerdict& verdict() const { return verdict_; }
  const format::Digest& file_digest() const { return file_digest_; } // of all its bytes

private:
  Judged(const Package& package, const trust::PackageVerdict& verdict);
  const Package* package_;
  trust::PackageVerdict verdict_;
  format::Digest file_digest_;
};

} // namespace cardseal::package
