#include "release.h"

#include "job/release_xml.h"

namespace cardseal::tool {

bool is_authored(const std::string& file) {
  return file.size() > 4 && file.ends_with(".xml");
}

Error report(const xml::Errors& errors, bool json) {
  for (std::size_t i = 0; i + 1 < errors.size() && !json; ++i) {
    note("cardseal: " + describe(errors[i]));
  }
  return json ? errors.front() : errors.back();
}

Try<job::CompiledRelease> compile_release(const std::string& file, const format::Digest& owner,
                                          bool json) {
  io::System& system = io::real_system();
  xml::All<job::ReleaseFile> release = xml::read_as(system, file, job::read_release);
  if (!release) {
    return Unexpected(report(release.error(), json));
  }
  xml::All<job::CompiledRelease> compiled =
      job::compile(system, *release, io::Path(file).parent_path(), owner, tool_name);
  if (!compiled) {
    return Unexpected(report(compiled.error(), json));
  }
  return std::move(*compiled);
}

} // namespace cardseal::tool
