// Releases of the source tree, compiled.
#pragma once

#include <filesystem>

#include "io/file.h"
#include "job/compile.h"
#include "job/summary.h"
#include "package/package.h"
#include "support/authored.h"
#include "support/temp_folder.h"

namespace cardseal::test {

inline constexpr format::Digest owner{0x0A};

inline xml::All<job::CompiledRelease> try_compile(const job::ReleaseFile& release,
                                                  const io::Path& folder) {
  return job::compile(io::real_system(), release, folder, owner, "cardseal 0.1.0");
}

inline job::CompiledRelease compiled(const job::ReleaseFile& release, const io::Path& folder) {
  xml::All<job::CompiledRelease> out = try_compile(release, folder);
  INFO((out ? "" : listed(out.error())));
  REQUIRE(out);
  return std::move(out).value();
}

inline job::CompiledRelease compiled_file(const std::string& path_in_tree) {
  return compiled(taken_file(path_in_tree, job::read_release),
                  source_path(path_in_tree).parent_path());
}

// A case of tests/rules. One that follows another release has that as previous.xml beside it: it is
// packed first, and the release is told the file and its identity.
inline job::CompiledRelease compiled_case(const std::string& folder_in_tree) {
  const io::Path folder = source_path(folder_in_tree);
  job::ReleaseFile release = taken_file(folder_in_tree + "/release.xml", job::read_release);
  const TempFolder temp;
  if (std::filesystem::exists(folder / "previous.xml")) {
    job::CompiledRelease before = compiled_file(folder_in_tree + "/previous.xml");
    const Try<io::Bytes> built =
        package::build(before.manifest, before.facts, before.image, std::move(before.documents));
    REQUIRE(built);
    const io::Path file = temp / "previous.crp";
    REQUIRE(io::write_file(io::real_system(), file, *built, io::IfExists::refuse));
    release.changes->package = file.string();
    release.previous = package::read(io::real_system(), file)->manifest_digest;
  }
  return compiled(release, folder);
}

// What one rule found, one line each, with paths from `folder`.
inline std::string found_by(const Rule& rule, const Findings& findings, const io::Path& folder) {
  std::string out;
  for (Finding finding : findings.kept()) {
    if (finding.rule == &rule) {
      const std::string prefix = folder.string() + "/";
      if (finding.place.file.starts_with(prefix)) {
        finding.place.file.erase(0, prefix.size());
      }
      out += job::spell(finding) + "\n";
    }
  }
  return out;
}

} // namespace cardseal::test
