// Admission of a release package: form, sign-offs, manifest, contents. The desk's `verify` and a
// station run this same code.
#pragma once

#include "format/container.h"
#include "format/manifest.h"
#include "format/signoff.h"
#include "trust/list_rules.h"

namespace cardseal::trust {

struct PackageVerdict {
  format::PackageLayout layout;
  format::Digest manifest_digest{};
  bool engineering = false; // signed off for engineering only
  // The narrowest of what the quality sign-offs (engineering's own, in that class) allow.
  format::Maybe<std::uint32_t> units_a_station;
  format::Maybe<format::OrdinalRange> numbers;
  bool plain_file = true;
};

// Everything but the image's own bytes, which are checked block by block as they are used
// (ImageStream). `text` holds one sealed text at a time: at least 8192 bytes. Order: form of the
// container; sign-offs against the manifest's digest; only then the manifest is parsed; then the
// other entries against it. On success `manifest` and `verdict` are set.
Outcome judge_package(const CryptoTable& crypto, const RootView& root,
                      const format::TrustList& list, const format::Source& source, ByteSpan text,
                      format::Manifest& manifest, PackageVerdict& verdict);

// Hands out the image's blocks in order, each proved by the signed chain head before anyone sees
// it. Constant memory; every byte comes from the buffer that was hashed.
class ImageStream {
public:
  ImageStream(const CryptoTable& crypto, const format::Source& source,
              const format::PackageLayout& layout, const format::Digest& chain_head);

  bool at_end() const { return index_ == count_; }
  // Reads the next block into `block` (at least 4096 bytes); `size` is what it holds. After a
  // fault (510, or the source's own) nothing of `block` may be used: it is wiped.
  Outcome next(ByteSpan block, std::size_t& size);

private:
  const CryptoTable& crypto_;
  const format::Source& source_;
  const format::PackageLayout& layout_;
  format::Digest expected_;
  std::uint32_t index_ = 0;
  std::uint32_t count_ = 0;
};

// Reads the whole of an extent through `buffer` and hashes it.
Outcome digest_of_extent(const CryptoTable& crypto, const format::Source& source,
                         const format::Extent& extent, ByteSpan buffer, format::Digest& digest);

} // namespace cardseal::trust
