// Releases of the source tree, compiled.
#pragma once

#include "job/compile.h"
#include "job/summary.h"
#include "support/authored.h"

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
