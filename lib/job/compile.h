// From an authored release to what a package seals. `check` and `pack` both go through here, so
// that what is reported is what would be sealed.
//
//   xml::All<ReleaseFile> release = xml::read_as(system, path, read_release);
//   xml::All<CompiledRelease> compiled = compile(system, *release, path.parent_path(), owner,
//   tool); if (!compiled->findings.refused()) package::build(compiled->manifest, ...);
//
// Errors: whatever could not be read, all of it. What can be read but should not be packed is a
// finding (job/rules.h), and then the rest is of use for showing only.
#pragma once

#include <vector>

#include "diag/finding.h"
#include "format/facts.h"
#include "image/operations.h"
#include "image/sparse_image.h"
#include "io/system.h"
#include "job/release_xml.h"
#include "package/package.h"

namespace cardseal::job {

struct CompiledRelease {
  format::Manifest manifest; // but what package::build fills: segments, image, chain, facts, files
  format::Facts facts;
  image::SparseImage image;
  std::vector<package::Document> documents;
  std::vector<image::NamedRange> regions; // of the device
  Findings findings;
};

// `folder` is that of release.xml. `owner` is the digest of the owner's first root; zeros will do
// for checking. `tool` is name and version, at most 24 of printable ASCII.
xml::All<CompiledRelease> compile(io::System& system, const ReleaseFile& release,
                                  const io::Path& folder, const format::Digest& owner,
                                  std::string_view tool);

} // namespace cardseal::job
